//! What the page shows, as HTML.

mod day;
mod floor;
mod frame;
mod jump;
mod keeping;
mod loads;
mod shelf;

pub(super) use day::day;
pub(super) use floor::floor;
pub(super) use frame::{invitation, page, plain, welcome};
pub(super) use jump::jump;
pub(super) use loads::loads;
pub(super) use shelf::shelf;

use maud::{Markup, html};

use crate::report::model::Failure;

/// What went wrong and what to do about it.
fn fault(failure: &Failure) -> Markup {
    html! {
        div.fault role="alert" {
            p.what { (sentence(&failure.message)) }
            p.remedy { (sentence(&failure.hint)) }
        }
    }
}

/// With a capital letter and a full stop.
fn sentence(text: &str) -> String {
    let mut letters = text.trim().chars();
    let Some(first) = letters.next() else {
        return String::new();
    };
    let mut sentence: String = first.to_uppercase().chain(letters).collect();
    if !sentence.ends_with(['.', '!', '?', ':']) {
        sentence.push('.');
    }
    sentence
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_become_sentences() {
        assert_eq!(sentence("the file is empty"), "The file is empty.");
        assert_eq!(sentence("Why?"), "Why?");
        assert_eq!(sentence(" "), "");
    }
}
