//! Each foot by itself, where two stand side by side in the picture.

use super::{CLEAR, Care, Contact, Followed, Guess, Tracker};
use crate::video::agree::FootEvent;
use crate::video::contact::FootFlight;
use crate::video::stance::{Seen, between_shoes};

/// A foot leaves at most this long before the other and lands as long after it, in
/// seconds: more is a stride, or the heel of a shoe seen from the side, which leaves a
/// tenth of a second before its toe.
const FARTHEST_S: f64 = 0.09;
/// How far the first to land and the last to leave may lie from what both feet
/// together told, in seconds.
const SAME_S: f64 = 0.005;
/// How long before take-off and after landing both shoes surely stand.
const STANDS_S: f64 = FARTHEST_S + 0.02;

impl Tracker<'_> {
    /// Each foot's own flight, left to right in the picture; `None` where the picture
    /// does not show two shoes side by side or one of them cannot be followed.
    pub(super) fn feet(&self, seen: &Followed) -> Option<[FootFlight; 2]> {
        let [left_off, right_off] =
            self.each_foot(&seen.guess, &seen.takeoff.0, Contact::Before)?;
        let [left_on, right_on] = self.each_foot(&seen.guess, &seen.landing.0, Contact::After)?;
        Some(
            [(left_off, left_on), (right_off, right_on)]
                .map(|(takeoff, landing)| FootFlight { takeoff, landing }),
        )
    }

    /// One end of the flight for each foot.
    fn each_foot(
        &self,
        guess: &Guess,
        both: &FootEvent,
        contact: Contact,
    ) -> Option<[FootEvent; 2]> {
        let into_contact = -contact.sign();
        let seen = Seen::round(both, contact, STANDS_S, guess.flight_s, guess.px_per_m);
        let between = between_shoes(self.film, &seen)?;
        let sides = [(0.0, between), (between, f64::INFINITY)];
        let [left, right] = sides.map(|columns| {
            let guess = Guess { columns, ..*guess };
            self.one_foot(&guess, contact)
        });
        let feet = [left?, right?];
        // Counted from what both told, into the contact.
        let late = feet.map(|foot| into_contact * (foot.t_s - both.t_s));
        let first = late[0].min(late[1]);
        let last = late[0].max(late[1]);
        (first.abs() <= SAME_S && last - first <= FARTHEST_S).then_some(feet)
    }

    /// The foot in the guess's columns, which may leave earlier and land later than
    /// the guess says.
    fn one_foot(&self, guess: &Guess, contact: Contact) -> Option<FootEvent> {
        const STEPS_S: [f64; 4] = [0.0, 0.025, 0.05, 0.075];
        let mut best: Option<FootEvent> = None;
        for step in STEPS_S {
            let found = self
                .event(&guess.moved(contact, -step), contact, Care::Quick)
                .map(|found| found.0);
            best = [best, found]
                .into_iter()
                .flatten()
                .max_by(|a, b| a.weight.total_cmp(&b.weight));
            if best.is_some_and(|foot| foot.certainty() >= CLEAR) {
                break;
            }
        }
        best.filter(|foot| foot.certainty() >= CLEAR)
    }
}
