-- The first layout. Dates are the athlete's calendar days (YYYY-MM-DD), moments are
-- RFC 3339 in UTC; every number's unit is the end of its column's name.

CREATE TABLE athlete (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    name TEXT NOT NULL CHECK (name <> ''),
    -- The name as it is looked for: composed letters, lower case, single spaces.
    name_key TEXT NOT NULL UNIQUE,
    stature_m REAL CHECK (stature_m > 0),
    push_off_m REAL CHECK (push_off_m > 0),
    push_off_u_m REAL CHECK (push_off_u_m >= 0),
    push_off_measured INTEGER CHECK (push_off_measured IN (0, 1)),
    birth_year INTEGER,
    note TEXT NOT NULL DEFAULT '',
    added_at TEXT NOT NULL
) STRICT;

CREATE TABLE body_mass (
    athlete_id INTEGER NOT NULL REFERENCES athlete ON DELETE CASCADE,
    date TEXT NOT NULL,
    mass_kg REAL NOT NULL CHECK (mass_kg > 0),
    recorded_at TEXT NOT NULL,
    PRIMARY KEY (athlete_id, date)
) STRICT, WITHOUT ROWID;

-- A clip is known by its contents; where it lies is not kept.
CREATE TABLE clip (
    id INTEGER PRIMARY KEY,
    sha256 BLOB NOT NULL UNIQUE CHECK (length(sha256) = 32),
    name TEXT NOT NULL,
    patch_x_px INTEGER,
    patch_y_px INTEGER,
    patch_w_px INTEGER,
    patch_h_px INTEGER
) STRICT;

CREATE TABLE trial (
    -- Numbers that people have seen are not given out again.
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    athlete_id INTEGER NOT NULL REFERENCES athlete ON DELETE CASCADE,
    date TEXT NOT NULL,
    -- Place of the jump in the athlete's day, from 1.
    place INTEGER NOT NULL CHECK (place > 0),
    kind TEXT NOT NULL,
    load_kg REAL NOT NULL CHECK (load_kg >= 0),
    drop_height_m REAL CHECK (drop_height_m > 0),
    clip_id INTEGER REFERENCES clip,
    -- Number of the jump in its clip, from 1.
    clip_jump INTEGER CHECK (clip_jump > 0),
    takeoff_s REAL,
    takeoff_earliest_s REAL,
    takeoff_latest_s REAL,
    landing_s REAL,
    landing_earliest_s REAL,
    landing_latest_s REAL,
    flight_time_s REAL,
    flight_time_u_s REAL,
    flight_time_lo_s REAL,
    flight_time_hi_s REAL,
    flight_time_lo95_s REAL,
    flight_time_hi95_s REAL,
    height_m REAL NOT NULL CHECK (height_m >= 0),
    height_u_m REAL NOT NULL CHECK (height_u_m >= 0),
    height_lo_m REAL,
    height_hi_m REAL,
    height_lo95_m REAL,
    height_hi95_m REAL,
    -- The part of the error that each clip draws anew, and the part that all clips
    -- of one phone and place share.
    film_u_m REAL NOT NULL CHECK (film_u_m >= 0),
    shared_u_m REAL NOT NULL CHECK (shared_u_m >= 0),
    gravity_m_s2 REAL,
    contact_time_s REAL CHECK (contact_time_s > 0),
    overstatement_m REAL,
    overstatement_u_m REAL,
    -- JSON: [{"source": …, "u_m": …}] and [{"code": …, "advice": …, "doubtful": …}].
    budget TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(budget)),
    flags TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(flags)),
    -- Codes of the flags that make the trial doubtful, with commas between.
    doubts TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT '',
    -- Why a person set the trial aside; null if it counts.
    set_aside TEXT CHECK (set_aside <> ''),
    recorded_at TEXT NOT NULL,
    UNIQUE (athlete_id, date, place)
) STRICT;

CREATE INDEX trial_by_date ON trial (date, athlete_id);
CREATE INDEX trial_by_clip ON trial (clip_id) WHERE clip_id IS NOT NULL;

CREATE TABLE mat_reading (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    athlete_id INTEGER NOT NULL REFERENCES athlete ON DELETE CASCADE,
    date TEXT NOT NULL,
    -- Place of the jump in the athlete's day, as in trial.
    place INTEGER NOT NULL CHECK (place > 0),
    -- Which mat; '' where there is only one.
    mat TEXT NOT NULL,
    flight_time_s REAL CHECK (flight_time_s > 0),
    step_s REAL CHECK (step_s > 0),
    height_m REAL CHECK (height_m > 0),
    step_m REAL CHECK (step_m > 0),
    -- The formula behind a height: gravity · T² / 8 + added.
    gravity_m_s2 REAL,
    added_m REAL,
    note TEXT NOT NULL DEFAULT '',
    recorded_at TEXT NOT NULL,
    CHECK ((flight_time_s IS NULL) = (step_s IS NULL)),
    CHECK ((height_m IS NULL) = (step_m IS NULL)),
    CHECK ((flight_time_s IS NULL) <> (height_m IS NULL)),
    UNIQUE (athlete_id, date, place, mat)
) STRICT;

CREATE INDEX mat_by_date ON mat_reading (date, athlete_id);

CREATE TABLE companion (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    athlete_id INTEGER NOT NULL REFERENCES athlete ON DELETE CASCADE,
    measure TEXT NOT NULL CHECK (measure <> ''),
    date TEXT NOT NULL,
    -- Which of the day's values, from 1.
    place INTEGER NOT NULL CHECK (place > 0),
    value REAL NOT NULL,
    -- UCUM, case-sensitive form.
    unit TEXT NOT NULL CHECK (unit <> ''),
    note TEXT NOT NULL DEFAULT '',
    recorded_at TEXT NOT NULL,
    UNIQUE (athlete_id, measure, date, place)
) STRICT;

-- Results that are used again, such as a mat's correction.
CREATE TABLE saved (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    kind TEXT NOT NULL CHECK (kind <> ''),
    name TEXT NOT NULL,
    -- Version of the layout of content, for whoever reads it.
    version INTEGER NOT NULL,
    date TEXT NOT NULL,
    content TEXT NOT NULL CHECK (json_valid(content)),
    recorded_at TEXT NOT NULL,
    UNIQUE (kind, name)
) STRICT;

-- Whom a saved result tells something about; it goes when one of them is forgotten.
CREATE TABLE saved_about (
    saved_id INTEGER NOT NULL REFERENCES saved ON DELETE CASCADE,
    athlete_id INTEGER NOT NULL REFERENCES athlete ON DELETE CASCADE,
    PRIMARY KEY (saved_id, athlete_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX saved_about_athlete ON saved_about (athlete_id);
