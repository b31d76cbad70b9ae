//! What has to be said before anyone jumps with a load.
//!
//! After the position statement on plyometric training in NSCA Bulletin 36.08
//! (evaluation beforehand, demonstrated technique and strength, progressive
//! warm-up, non-slip and mildly absorbent surface, room overhead, slow before
//! loaded); the rest is common practice.

use serde::Serialize;

/// One caution, with a key for machines and a sentence for people.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Caution {
    /// Stable key.
    pub key: &'static str,
    /// The sentence.
    pub text: &'static str,
}

/// All cautions, in the order in which they apply. They belong before the first
/// loaded session and on every sheet with loads.
pub const CAUTIONS: [Caution; 10] = [
    Caution {
        key: "screening",
        text: "Ask about health and injuries first, with a written screening; anyone with a \
               doubt, a recent injury, heart trouble or pregnancy asks a doctor before jumping.",
    },
    Caution {
        key: "supervision",
        text: "Never alone: a coach who can teach the squat and the landing watches every \
               loaded jump.",
    },
    Caution {
        key: "minors",
        text: "Minors need a parent's consent, a coach trained for youth, and technique before \
               any load.",
    },
    Caution {
        key: "warm_up",
        text: "Warm up progressively, then two or three easy jumps before the first hard one; \
               slow before fast, unloaded before loaded.",
    },
    Caution {
        key: "surface",
        text: "Jump on a firm, non-slip, mildly absorbent floor with free room around and \
               overhead, in shoes that are tied.",
    },
    Caution {
        key: "landing",
        text: "Land on both feet, quietly, knees over the toes, and stop the movement before \
               the next jump. A load that spoils the landing is too heavy.",
    },
    Caution {
        key: "bar",
        text: "Hold the bar down on the shoulders through flight and landing, collars closed; \
               dumbbells hang at the sides. A bar that lifts off comes down on the neck.",
    },
    Caution {
        key: "rest",
        text: "Rest at least a minute between single jumps, longer with a load; stop when \
               jumps get clearly lower.",
    },
    Caution {
        key: "pain",
        text: "Stop at pain, dizziness or any unusual feeling, and do not go on that day.",
    },
    Caution {
        key: "medical",
        text: "Nothing here is medical advice, and no number here replaces the coach's eye.",
    },
];

/// The published doubts about force–velocity lines from jump heights.
pub const PROFILE_DOUBTS: &str = "Repeated tests of the same person give slopes that vary by 14 to \
    30 % (Lindberg and others 2021, PLoS ONE 16:e0245791); others call such profiles unreliable \
    altogether (Kotani and others 2022), or no property of the muscles (Bobbert and others, PMC10241446). \
    Others again defend them (Jiménez-Reyes and others 2017; Samozino and others 2022). So the \
    line is shown with its intervals, and nobody is given a label.";
