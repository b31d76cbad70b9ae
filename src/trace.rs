//! What a clip shows of contact and flight, without pixels: times, rows and speeds.
//!
//! `video` fills these in from frames, `jump` reads them. Nothing here sees a picture, so
//! jumps can be told from traces of any origin, without the decoder.

use crate::units::FrameIndex;

/// Free fall for finding and following the foot, in metres per second squared; its
/// third digit does not matter here. Heights use the gravity that the user states.
pub(crate) const FREE_FALL: f64 = 9.807;

/// What the watched part of a clip shows, without pixels.
#[derive(Clone, Debug)]
pub struct ContactTrace {
    /// Capture time of each frame in seconds.
    pub times_s: Vec<f64>,
    /// Position of each frame in the clip.
    pub indices: Vec<FrameIndex>,
    /// Motion in the patch at each frame in grey levels; 0 at the first of those
    /// decoded together, not a number at frames that were not decoded.
    pub motion: Vec<f32>,
    /// Possible flights in order of time; no two overlap.
    pub leaps: Vec<Leap>,
    /// When head and trunk fell freely, whether or not the feet could be followed.
    pub body_flights: Vec<BodyFlight>,
    /// Typical frame spacing in seconds.
    pub spacing_s: f64,
    /// Height of the patch in the trace's own pixels.
    pub patch_height_px: f64,
    /// Pixels of the upright picture that one of the trace's covers in each direction.
    pub px: f64,
}

/// A possible flight: what was seen of both its ends.
#[derive(Clone, Debug)]
pub struct Leap {
    /// Take-off, by agreement of the paths.
    pub takeoff: FootEvent,
    /// Landing, likewise.
    pub landing: FootEvent,
    /// Scale at the feet in pixels per metre, from the speeds at the floor.
    pub px_per_m: f64,
    /// Strength of the parabola in the motion slice.
    pub evidence: f64,
    /// Paths round take-off.
    pub takeoff_paths: Vec<Path>,
    /// Paths round landing.
    pub landing_paths: Vec<Path>,
    /// Whether head and trunk fell freely at the same time.
    pub backed: bool,
    /// Where the trunk went, if it was watched and could be followed.
    pub body: Option<BodyPath>,
    /// First touch of the floor before take-off, where the trunk came down: from a box,
    /// or from a leap before.
    pub touchdown: Option<FootEvent>,
    /// Each foot by itself, left to right in the picture, where two stand side by side.
    pub feet: Option<[FootFlight; 2]>,
    /// How well it could be seen.
    pub sight: Sight,
}

/// One foot's own leaving and landing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FootFlight {
    /// When it left the floor.
    pub takeoff: FootEvent,
    /// When it came back.
    pub landing: FootEvent,
}

impl Leap {
    /// Flight time in seconds.
    pub fn flight_s(&self) -> f64 {
        self.landing.t_s - self.takeoff.t_s
    }

    /// Whether two leaps cannot both be true.
    pub fn overlaps(&self, other: &Leap) -> bool {
        self.takeoff.t_s < other.landing.t_s && other.takeoff.t_s < self.landing.t_s
    }

    /// Where the trunk was before take-off: seconds from take-off, below 0, and metres
    /// above its height there; nothing where it was not followed.
    pub fn trunk_before(&self) -> Vec<(f64, f64)> {
        let path = self.body.as_ref();
        path.into_iter()
            .flat_map(|path| path.times_s.iter().zip(&path.rise_px))
            .map(|(t, rise)| (t - self.takeoff.t_s, rise / self.px_per_m))
            .filter(|(t, _)| *t < 0.0)
            .collect()
    }

    /// Certainty of the weaker event, 0 to 1.
    pub fn certainty(&self) -> f64 {
        self.takeoff.certainty().min(self.landing.certainty())
    }
}

/// Where the votes of the paths agree.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FootEvent {
    /// Event time in seconds on the capture clock.
    pub t_s: f64,
    /// Weighted standard deviation of the agreeing votes in seconds.
    pub spread_s: f64,
    /// Weight of the agreeing votes; a perfect path counts 1.
    pub weight: f64,
    /// Paths followed, agreeing or not; three quarters of the tiles at least, so that
    /// one path out of two does not pass for half of many.
    pub paths: usize,
    /// Agreeing share of all weight, 0 to 1.
    pub share: f64,
    /// Agreeing paths.
    pub votes: usize,
    /// Speed at the floor in pixels per second.
    pub speed_px_s: f64,
    /// Run-up of the toe in seconds; 0 at a landing.
    pub run_up_s: f64,
    /// Misfit of the agreeing paths in pixels, root mean square.
    pub rms_px: f64,
    /// Row of the floor under the agreeing tiles.
    pub floor_px: f64,
}

impl FootEvent {
    /// How sure it is that this is a foot that stood and flew, 0 to 1: grows with
    /// the number of agreeing paths (per two dozen followed) and with their share.
    /// Three perfect paths without a rival make 0.63.
    pub fn certainty(&self) -> f64 {
        const DOZENS: f64 = 24.0;
        const TELLING: f64 = 3.0;
        let votes = self.weight * self.share.sqrt() * DOZENS / self.paths.max(1) as f64;
        1.0 - (-votes / TELLING).exp()
    }
}

/// A tile's place in one frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PathPoint {
    /// Frame, counted within the frames given to the tracker.
    pub frame: usize,
    /// Capture time in seconds.
    pub t: f64,
    /// Centre row in pixels, downwards.
    pub y: f64,
    /// Centre column in pixels.
    pub x: f64,
    /// Likeness to the first sighting: correlation, 0.6 to 1.
    pub likeness: f64,
}

/// Where one part of the shoe went, in order of time.
pub type Path = Vec<PathPoint>;

/// Where the trunk was, from standing to landing. Heights in fine pixels, up,
/// counted from take-off; they share the scale of [`Leap::px_per_m`].
#[derive(Clone, Debug, PartialEq)]
pub struct BodyPath {
    /// Capture time of each point in seconds.
    pub times_s: Vec<f64>,
    /// Height of the trunk at each point.
    pub rise_px: Vec<f64>,
    /// Trunk's height at landing over its height at take-off.
    pub landing_px: f64,
    /// Standard deviation of that between the parts.
    pub landing_spread_px: f64,
    /// Fitted acceleration in flight, downwards, in pixels per second squared.
    pub fall_px_s2: f64,
    /// From the toes to the top of the head at take-off, where it is in view.
    pub reach_px: Option<f64>,
}

/// A stretch in which the body falls freely.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BodyFlight {
    /// Fastest on the way up, in seconds: shortly before the feet leave.
    pub rising_s: f64,
    /// Fastest on the way down: shortly after the feet touch.
    pub falling_s: f64,
    /// At the top, by the straight line through the speeds.
    pub top_s: f64,
    /// Pixels of the trace per metre, by free fall.
    pub px_per_m: f64,
    /// Share of the speed's variance that a straight line explains.
    pub straight: f64,
}

/// What the pictures round a leap were like.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sight {
    /// Largest change of brightness where the shoes stood, in levels of 255, at the end
    /// of the flight where it is less; `None` where the clip does not show the stand.
    pub contrast: Option<f64>,
    /// Strength of the shoes' edges at the speed of landing, as a share of that when they
    /// stand; `None` where no part was seen both ways.
    pub sharpness: Option<f64>,
    /// Swing of the picture from frame to frame, root mean square, in pixels of the
    /// upright picture; `None` where nothing stands still beside the feet.
    pub shake_px: Option<f64>,
    /// Whether what should stand still beside the feet could not be followed: the picture
    /// moved too far, or something hid it.
    pub surroundings_lost: bool,
    /// Whether a part of a shoe looks as in the stand when the sole should be well above
    /// the floor.
    pub part_stood: bool,
    /// Scale that the feet's times and speeds imply over the one by which head and trunk
    /// fell freely; `None` where these were not seen to.
    pub scale_by_body: Option<f64>,
    /// How long after the top of the body's fall the middle of the flight was, in seconds;
    /// `None` where head and trunk were not seen to fall freely.
    pub after_top_s: Option<f64>,
    /// Swing of the brightness from frame to frame, root mean square, as a share.
    pub flicker: f64,
    /// Largest change of brightness on the floor while the feet were well above it, in
    /// levels of 255: what else moved there.
    pub stranger: f64,
    /// Middle of the feet at take-off and at landing, as shares of the patch's width.
    pub places: Option<(f64, f64)>,
    /// How far the parts that landed lay from those that left, sideways in the picture, in
    /// metres.
    pub moved_m: Option<f64>,
}
