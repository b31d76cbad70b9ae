//! Words that cannot be guessed.

use std::fmt::Write;

use crate::report::model::Failure;

/// Thirty-two hexadecimal digits from the system's source of chance: 128 bits.
pub(super) fn word() -> Result<String, Failure> {
    let mut bytes = [0; 16];
    getrandom::fill(&mut bytes).map_err(|error| Failure {
        message: format!("the system gives no random numbers ({error})"),
        hint: "restart the computer and try again".to_owned(),
    })?;
    Ok(bytes.iter().fold(String::new(), |mut word, byte| {
        let _ = write!(word, "{byte:02x}");
        word
    }))
}

/// Whether two words are the same, in a time that does not tell how far they agree.
pub(super) fn same(a: &str, b: &str) -> bool {
    let differing = a
        .bytes()
        .zip(b.bytes())
        .fold(0, |sum, (a, b)| sum | (a ^ b));
    a.len() == b.len() && differing == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_long_and_never_twice_the_same() {
        let (a, b) = (word().unwrap(), word().unwrap());
        assert_eq!(a.len(), 32);
        assert_ne!(a, b);
        assert!(same(&a, &a.clone()) && !same(&a, &b) && !same(&a, &a[..31]));
    }
}
