//! Which of a file's tags bear on time, and what they say.

/// Longest value that is kept of a tag, in characters.
const MAX_VALUE_CHARS: usize = 128;

/// How many tags are kept.
const MAX_KEPT: usize = 32;

/// Words in a tag's name that make it worth keeping. Places and names of
/// people are left behind on purpose.
const WANTED: [&str; 9] = [
    "capture.fps",
    "capture_fps",
    "frame-rate",
    "framerate",
    "frame_rate",
    "temporal_layers",
    "com.android.version",
    "encoder",
    "creation_time",
];

/// The capture rate as Android writes it (`MediaFormat.KEY_CAPTURE_RATE` ends
/// up in the file as this key, a 32-bit float or its text).
///
/// QuickTime's full-frame-rate-playback-intent is not among them: Apple documents
/// it as a wish for the player; the stamps of such a file are the camera's own.
const CAPTURE_KEYS: [&str; 1] = ["com.android.capture.fps"];

/// The tags that bear on time, in the order of the file, each cut short and without
/// characters that would steer a terminal.
pub(super) fn about_time(all: &[(String, String)]) -> Vec<(String, String)> {
    all.iter()
        .filter(|(key, _)| {
            let key = key.to_ascii_lowercase();
            WANTED.iter().any(|wanted| key.contains(wanted))
        })
        .take(MAX_KEPT)
        .map(|(key, value)| {
            let plain = |c: char| if c.is_control() { '\u{fffd}' } else { c };
            let keep = |text: &String| -> String {
                text.chars().take(MAX_VALUE_CHARS).map(plain).collect()
            };
            (keep(key), keep(value))
        })
        .collect()
}

/// What the tags say of the rate at which the pictures were taken.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum CaptureRate {
    /// No tag speaks of it.
    Untold,
    /// A tag names a rate, in frames per second of the world.
    Told { key: String, fps: f64 },
    /// A tag is there, but is not a usable number.
    Unreadable { key: String, value: String },
}

/// Reads the capture rate from tags.
pub(super) fn capture_rate(tags: &[(String, String)]) -> CaptureRate {
    let found = tags.iter().find(|(key, _)| {
        CAPTURE_KEYS
            .iter()
            .any(|known| key.eq_ignore_ascii_case(known))
    });
    let Some((key, value)) = found else {
        return CaptureRate::Untold;
    };
    match value.trim().parse::<f64>() {
        Ok(fps) if (0.01..=100_000.0).contains(&fps) => CaptureRate::Told {
            key: key.clone(),
            fps,
        },
        _ => CaptureRate::Unreadable {
            key: key.clone(),
            value: value.clone(),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tag(key: &str, value: &str) -> (String, String) {
        (key.to_owned(), value.to_owned())
    }

    #[test]
    fn keeps_what_bears_on_time_and_nothing_of_places() {
        let all = [
            tag("com.apple.quicktime.location.ISO6709", "+60.1+024.9/"),
            tag("com.android.capture.fps", "240.000000"),
            tag("com.apple.quicktime.full-frame-rate-playback-intent", "0"),
            tag("artist", "somebody"),
        ];
        let kept = about_time(&all);
        assert_eq!(kept.len(), 2);
        assert_eq!(kept[0], tag("com.android.capture.fps", "240.000000"));
        let long = about_time(&[tag("encoder", &"é".repeat(5000))]);
        assert_eq!(long[0].1.chars().count(), 128);
        let steering = about_time(&[tag("encoder", "\u{1b}[2J\n")]);
        assert_eq!(steering[0].1, "\u{fffd}[2J\u{fffd}");
    }

    #[test]
    fn capture_rate_is_a_number_or_said_to_be_unreadable() {
        let rate = |value| capture_rate(&[tag("com.android.capture.fps", value)]);
        assert_eq!(
            rate(" 239.760 "),
            CaptureRate::Told {
                key: "com.android.capture.fps".to_owned(),
                fps: 239.76
            }
        );
        for bad in ["Cp", "", "NaN", "inf", "-30", "0"] {
            assert!(
                matches!(rate(bad), CaptureRate::Unreadable { .. }),
                "{bad:?}"
            );
        }
        assert_eq!(capture_rate(&[]), CaptureRate::Untold);
    }
}
