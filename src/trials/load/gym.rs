//! What can be loaded with the iron at hand.

use serde::{Deserialize, Serialize};

use super::error::{LoadError, within};

/// Plates of one mass, as many pairs as there are.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Plate {
    /// Mass of one plate in kg.
    pub each_kg: f64,
    /// Pairs at hand, at most 10.
    pub pairs: u32,
}

/// The gym.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Gym {
    /// Bars at hand, in kg: 20, 15, a light training bar.
    pub bars_kg: Vec<f64>,
    /// Plates for them.
    pub plates: Vec<Plate>,
    /// Dumbbells of which there are two, in kg each.
    pub dumbbells_kg: Vec<f64>,
}

/// How a load is made up.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Means {
    /// Nothing in the hands.
    BodyWeight,
    /// One dumbbell in each hand, arms at the sides.
    Dumbbells {
        /// Mass of each in kg.
        each_kg: f64,
    },
    /// A barbell on the shoulders.
    Barbell {
        /// The bar in kg.
        bar_kg: f64,
        /// Plates on each side in kg, heaviest first.
        per_side_kg: Vec<f64>,
    },
}

/// A load that can be made up.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Step {
    /// Load beyond the body, in kg.
    pub load_kg: f64,
    /// What it is made of.
    pub means: Means,
}

/// Most kinds of plates, bars or dumbbells taken.
const MOST_KINDS: usize = 30;

/// Grid on which plates are added up: 10 g, finer than any plate.
const GRAIN_PER_KG: f64 = 100.0;

impl Gym {
    /// All loads up to `most_kg`, lightest first, body weight included; of equal
    /// loads the simpler one: dumbbells before bar, fewer plates before more.
    ///
    /// # Errors
    /// [`LoadError::Impossible`] for masses that no gym has.
    pub fn steps(&self, most_kg: f64) -> Result<Vec<Step>, LoadError> {
        self.check()?;
        let mut steps = vec![Step {
            load_kg: 0.0,
            means: Means::BodyWeight,
        }];
        for each in &self.dumbbells_kg {
            steps.push(Step {
                load_kg: 2.0 * each,
                means: Means::Dumbbells { each_kg: *each },
            });
        }
        let sides = self.sides(most_kg);
        for bar in &self.bars_kg {
            for side in &sides {
                steps.push(Step {
                    load_kg: bar + 2.0 * side.iter().sum::<f64>(),
                    means: Means::Barbell {
                        bar_kg: *bar,
                        per_side_kg: side.clone(),
                    },
                });
            }
        }
        steps.retain(|s| s.load_kg <= most_kg + 1e-9);
        // Stable: among equals the one pushed first stays in front.
        steps.sort_by(|a, b| a.load_kg.total_cmp(&b.load_kg));
        steps.dedup_by(|later, first| (later.load_kg - first.load_kg).abs() < 0.5 / GRAIN_PER_KG);
        Ok(steps)
    }

    fn check(&self) -> Result<(), LoadError> {
        for (what, count) in [
            ("number of bars", self.bars_kg.len()),
            ("number of plate sizes", self.plates.len()),
            ("number of dumbbells", self.dumbbells_kg.len()),
        ] {
            within(what, count as f64, "", 0.0, MOST_KINDS as f64)?;
        }
        for bar in &self.bars_kg {
            within("bar", *bar, "kg", 1.0, 40.0)?;
        }
        for plate in &self.plates {
            within("plate", plate.each_kg, "kg", 0.1, 50.0)?;
            within("pairs of plates", f64::from(plate.pairs), "", 0.0, 10.0)?;
        }
        for each in &self.dumbbells_kg {
            within("dumbbell", *each, "kg", 0.25, 100.0)?;
        }
        Ok(())
    }

    /// Every sum of plates for one side, with the fewest plates for it.
    fn sides(&self, most_kg: f64) -> Vec<Vec<f64>> {
        let most = (most_kg / 2.0 * GRAIN_PER_KG).clamp(0.0, 50_000.0) as usize;
        let mut plates = self.plates.clone();
        plates.sort_by(|a, b| b.each_kg.total_cmp(&a.each_kg));
        let mut best: Vec<Option<Vec<f64>>> = vec![None; most + 1];
        if let Some(empty) = best.first_mut() {
            *empty = Some(Vec::new());
        }
        for plate in &plates {
            let grains = (plate.each_kg * GRAIN_PER_KG).round() as usize;
            for _ in 0..plate.pairs {
                // Downwards, so that this one pair is used once.
                for sum in (grains..=most).rev() {
                    let Some(Some(lighter)) = best.get(sum - grains) else {
                        continue;
                    };
                    let shorter = match best.get(sum) {
                        Some(Some(present)) => lighter.len() + 1 < present.len(),
                        _ => true,
                    };
                    if shorter {
                        let mut side = lighter.clone();
                        side.push(plate.each_kg);
                        if let Some(slot) = best.get_mut(sum) {
                            *slot = Some(side);
                        }
                    }
                }
            }
        }
        best.into_iter().flatten().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn club() -> Gym {
        Gym {
            bars_kg: vec![20.0],
            plates: [(10.0, 1), (5.0, 2), (2.5, 1), (1.25, 1)]
                .map(|(each_kg, pairs)| Plate { each_kg, pairs })
                .to_vec(),
            dumbbells_kg: vec![5.0, 10.0],
        }
    }

    #[test]
    fn steps_are_those_the_iron_allows() {
        let loads: Vec<f64> = club()
            .steps(30.0)
            .unwrap()
            .iter()
            .map(|s| s.load_kg)
            .collect();
        assert_eq!(loads, [0.0, 10.0, 20.0, 22.5, 25.0, 27.5, 30.0]);
    }

    #[test]
    fn fewest_plates_make_a_load() {
        let steps = club().steps(60.0).unwrap();
        let forty = steps.iter().find(|s| s.load_kg == 40.0).unwrap();
        let Means::Barbell { per_side_kg, .. } = &forty.means else {
            panic!("{forty:?}");
        };
        assert_eq!(per_side_kg, &[10.0]);
        // 10, 5, 5, 2.5 and 1.25 on each side are all there is.
        assert!(club().steps(500.0).unwrap().last().unwrap().load_kg == 67.5);
    }

    #[test]
    fn impossible_iron_is_refused() {
        let mut gym = club();
        gym.dumbbells_kg.push(-5.0);
        assert!(gym.steps(40.0).is_err());
    }
}
