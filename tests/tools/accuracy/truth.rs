//! What is known of a clip beforehand: the sidecar NAME.json.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use serde::Deserialize;

/// A clip and its truth.
pub struct TrueClip {
    pub name: String,
    pub path: PathBuf,
    pub capture_fps: f64,
    /// x, y, width, height of the floor patch that a user would mark.
    pub floor_box: [u32; 4],
    /// Gravity of the filmed world.
    pub g_m_s2: f64,
    /// The jumps in order of time; a step off a box is none.
    pub jumps: Vec<TrueJump>,
}

/// One jump's truth, on the capture clock.
#[derive(Clone, Copy, Debug, Deserialize)]
pub struct TrueJump {
    #[serde(rename = "takeoff")]
    pub takeoff_s: f64,
    #[serde(rename = "landing")]
    pub landing_s: f64,
    /// Rise of the centre of mass after take-off, whatever the posture at landing.
    #[serde(rename = "h_com")]
    pub rise_m: f64,
}

impl TrueJump {
    pub fn flight_time_s(&self) -> f64 {
        self.landing_s - self.takeoff_s
    }
}

#[derive(Deserialize)]
struct Sidecar {
    file: String,
    capture_fps: f64,
    truth: Truth,
    image: Image,
}

#[derive(Deserialize)]
struct Truth {
    g: f64,
    jumps: Vec<Labelled>,
}

#[derive(Deserialize)]
struct Labelled {
    #[serde(default)]
    kind: String,
    #[serde(flatten)]
    jump: TrueJump,
}

#[derive(Deserialize)]
struct Image {
    floor_box: [u32; 4],
}

impl TrueClip {
    /// All clips in a folder that have a truth, by name.
    pub fn all_in(folder: &Path) -> Result<Vec<Self>> {
        let mut sidecars: Vec<PathBuf> = fs::read_dir(folder)?
            .filter_map(|entry| Some(entry.ok()?.path()))
            .filter(|path| path.extension().is_some_and(|end| end == "json"))
            .collect();
        sidecars.sort();
        let clips = sidecars.iter().map(|path| Self::read(path));
        clips.filter_map(Result::transpose).collect()
    }

    /// The clip of a sidecar; none for a JSON file without `truth`.
    fn read(sidecar: &Path) -> Result<Option<Self>> {
        let at = || sidecar.display().to_string();
        let text = fs::read_to_string(sidecar).with_context(at)?;
        let any: serde_json::Value = serde_json::from_str(&text).with_context(at)?;
        if any.get("truth").is_none() {
            return Ok(None);
        }
        let told: Sidecar = serde_json::from_value(any).with_context(at)?;
        let is_jump = |labelled: &Labelled| !labelled.kind.contains("not a jump");
        let jumps = told.truth.jumps.into_iter().filter(is_jump);
        Ok(Some(Self {
            name: told.file.clone(),
            path: sidecar.with_file_name(told.file),
            capture_fps: told.capture_fps,
            floor_box: told.image.floor_box,
            g_m_s2: told.truth.g,
            jumps: jumps.map(|labelled| labelled.jump).collect(),
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fall_from_a_box_is_no_jump_and_other_json_is_no_truth() {
        let folder = tempfile::tempdir().unwrap();
        let jump = |kind: &str| {
            format!(r#"{{"takeoff": 1.0, "landing": 1.5, "h_com": 0.3, "kind": "{kind}"}}"#)
        };
        let text = format!(
            r#"{{"file": "a.mp4", "capture_fps": 240, "image": {{"floor_box": [1, 2, 3, 4]}},
                "truth": {{"g": 9.81, "jumps": [{}, {}]}}}}"#,
            jump("fall from the box (not a jump)"),
            jump("rebound jump")
        );
        fs::write(folder.path().join("a.json"), text).unwrap();
        fs::write(folder.path().join("patch.json"), r#"{"x": 3}"#).unwrap();
        let clips = TrueClip::all_in(folder.path()).unwrap();
        assert_eq!(clips.len(), 1);
        assert_eq!(clips[0].jumps.len(), 1);
        assert_eq!(clips[0].jumps[0].flight_time_s(), 0.5);
        fs::write(folder.path().join("b.json"), r#"{"truth": {}}"#).unwrap();
        assert!(TrueClip::all_in(folder.path()).is_err());
    }
}
