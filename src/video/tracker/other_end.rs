//! Ends that are looked for from what is known of another: the other end of a flight, the
//! touch before a push.

use super::{CLEAR, Care, Contact, Guess, Tracker};
use crate::video::FREE_FALL;
use crate::video::agree::FootEvent;
use crate::video::contact::Leap;
use crate::video::pick::EVERYWHERE;

impl Tracker<'_> {
    /// When the feet touched the floor before a leap, falling from `fall_m` above it
    /// at about `about_s`.
    pub(in crate::video) fn touchdown(
        &self,
        leap: &Leap,
        about_s: f64,
        fall_m: f64,
    ) -> Option<FootEvent> {
        let flight_s = (8.0 * fall_m / FREE_FALL).sqrt();
        let guess = Guess {
            takeoff_s: about_s - flight_s,
            flight_s,
            px_per_m: leap.px_per_m,
            floor_px: 0.5 * (leap.takeoff.floor_px + leap.landing.floor_px),
            columns: EVERYWHERE,
        };
        let (event, _) = self.event(&guess, Contact::After, Care::Full)?;
        (event.certainty() >= CLEAR && event.t_s < leap.takeoff.t_s).then_some(event)
    }

    /// Where only one end of the flight is clear, its speed in pixels says what
    /// scale each flight time would mean: looks for the other end at all of them.
    pub(super) fn second_thought(
        &self,
        guess: &Guess,
        takeoff: Option<FootEvent>,
        landing: Option<FootEvent>,
    ) -> Option<(f64, Guess)> {
        const STEPS: i32 = 12;
        let clear = |e: &FootEvent| e.certainty() >= CLEAR;
        let (known, sought) = match (takeoff.filter(clear), landing.filter(clear)) {
            (Some(takeoff), None) => (takeoff, Contact::After),
            (None, Some(landing)) => (landing, Contact::Before),
            _ => return None,
        };
        let tries = (0..=STEPS).filter_map(|i| {
            let flight_s = 0.14 * 1.18f64.powi(i);
            let guess = Guess {
                takeoff_s: match sought {
                    Contact::After => known.t_s,
                    Contact::Before => known.t_s - flight_s,
                },
                flight_s,
                px_per_m: known.speed_px_s / (0.5 * FREE_FALL * flight_s),
                floor_px: guess.floor_px,
                columns: guess.columns,
            };
            let (found, _) = self.event(&guess, sought, Care::Quick)?;
            let guess = match sought {
                Contact::After => self.told(guess, &known, &found),
                Contact::Before => self.told(guess, &found, &known),
            };
            Some((found.certainty(), guess?))
        });
        tries.max_by(|a, b| a.0.total_cmp(&b.0))
    }
}
