//! Parts of a shoe that stand on the floor while a flight is said to last.
//!
//! A toe that hides, or that looks like the floor, leaves the heel to tell the event:
//! well before the toe at take-off, well after it at landing. But then the toe stands
//! there, and the rows of the sole look as they do in the stand.

use super::{CLEAR, Care, Contact, End, Followed, Guess, Tracker};
use crate::video::FREE_FALL;
use crate::video::agree::FootEvent;
use crate::video::stance::{GONE, Seen, Standing, standing};

/// So high above the floor is the sole when it is looked whether a part still stands, in
/// metres.
const HIGH_M: f64 = 0.045;
/// A part this long, in metres, is more than what noise and the shadow leave (seven
/// centimetres at most, on the rendered clips).
const PART_M: f64 = 0.09;
/// When the shoe surely stands, in seconds into the contact.
const STANDS_S: f64 = 0.05;

impl Tracker<'_> {
    /// The same flight with its ends told by the parts that left last and touched first,
    /// and whether a part seems to stand on the floor even so.
    pub(super) fn without_standing_parts(&self, mut seen: Followed) -> (Followed, bool) {
        let moving = self.steady.as_ref().is_ok_and(|steady| steady.moves());
        if moving {
            return (seen, false);
        }
        let mut stood = false;
        for contact in [Contact::Before, Contact::After] {
            let Some(part) = self.standing_part(&seen, contact) else {
                continue;
            };
            let truer = self.by_part(&seen, contact, &part);
            match truer.filter(|truer| self.standing_part(truer, contact).is_none()) {
                Some(truer) => seen = truer,
                None => stood = true,
            }
        }
        (seen, stood)
    }

    /// The part that stands on the floor when the sole should be well above it.
    fn standing_part(&self, seen: &Followed, contact: Contact) -> Option<Standing> {
        let (guess, end) = (&seen.guess, seen.end(contact));
        let speed = 0.5 * FREE_FALL * guess.flight_s;
        let high_s = (HIGH_M / speed).max(1.2 * self.spacing_s);
        let into_flight = contact.sign();
        if high_s > GONE * guess.flight_s {
            return None;
        }
        let when = Seen::round(end, contact, STANDS_S, guess.flight_s, guess.px_per_m);
        standing(self.film, end.t_s + into_flight * high_s, &when)
            .filter(|part| part.length_m >= PART_M)
    }

    /// The flight with one end told by a part of the shoe that is on the floor later at
    /// take-off, or sooner at landing, than what told it so far.
    fn by_part(&self, seen: &Followed, contact: Contact, part: &Standing) -> Option<Followed> {
        const STEPS_S: [f64; 4] = [0.025, 0.05, 0.075, 0.1];
        let known = seen.end(contact);
        let later_s = |end: &End| contact.sign() * (end.0.t_s - known.t_s);
        let tries = STEPS_S.into_iter().filter_map(|step| {
            let guess = Guess {
                columns: part.columns,
                ..seen.guess.moved(contact, step)
            };
            self.event(&guess, contact, Care::Quick)
        });
        let found = tries
            .filter(|end| end.0.certainty() >= CLEAR && later_s(end) > 0.5 * STEPS_S[0])
            .max_by(|a, b| a.0.weight.total_cmp(&b.0.weight))?;
        let (takeoff, landing) = match contact {
            Contact::Before => (found, seen.landing.clone()),
            Contact::After => (seen.takeoff.clone(), found),
        };
        Some(Followed {
            guess: self.told(seen.guess, &takeoff.0, &landing.0)?,
            takeoff,
            landing,
        })
    }
}

impl Followed {
    fn end(&self, contact: Contact) -> &FootEvent {
        match contact {
            Contact::Before => &self.takeoff.0,
            Contact::After => &self.landing.0,
        }
    }
}
