//! Lines that fit the terminal, and text that cannot command it.

/// Characters a line may hold.
pub(in crate::report) const COLUMNS: usize = 80;

/// Text from a file or its name without control characters, which a terminal obeys.
pub fn harmless(text: &str) -> String {
    let spaced = |c: char| if c.is_control() { '\u{FFFD}' } else { c };
    // Marks that turn the writing direction could disguise a name.
    let turning = |c: &char| !matches!(c, '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}');
    text.chars().filter(turning).map(spaced).collect()
}

/// Harmless text with its middle left out if it is longer than `room` characters.
pub(in crate::report) fn elided(text: &str, room: usize) -> String {
    let letters: Vec<char> = harmless(text).chars().collect();
    if letters.len() <= room {
        return letters.into_iter().collect();
    }
    let kept = room.saturating_sub(1);
    let head = kept / 2;
    let tail = letters.len() - (kept - head);
    let ends = letters.iter().take(head).chain(['…'].iter());
    ends.chain(letters.iter().skip(tail)).collect()
}

/// Breaks `text` at spaces into lines of at most [`COLUMNS`] characters. The first
/// begins with `lead`, the others with as many spaces.
pub(in crate::report) fn wrapped(lead: &str, text: &str) -> String {
    let indent = lead.chars().count();
    let mut lines = String::new();
    let mut line = lead.to_owned();
    let mut used = indent;
    for word in harmless(text).split_whitespace() {
        let mut word: Vec<char> = word.chars().collect();
        if used > indent && used + 1 + word.len() > COLUMNS {
            lines.push_str(&line);
            lines.push('\n');
            line = " ".repeat(indent);
            used = indent;
        } else if used > indent {
            line.push(' ');
            used += 1;
        }
        // A word longer than a whole line is cut.
        while used + word.len() > COLUMNS {
            let rest = word.split_off(COLUMNS - used);
            line.extend(word);
            lines.push_str(&line);
            lines.push('\n');
            line = " ".repeat(indent);
            used = indent;
            word = rest;
        }
        used += word.len();
        line.extend(word);
    }
    lines.push_str(line.trim_end());
    lines.push('\n');
    lines
}

/// Like [`wrapped`] for text that begins `indent` characters into a line already begun.
pub(in crate::report) fn hanging(indent: usize, text: &str) -> String {
    let lines = wrapped(&" ".repeat(indent), text);
    lines.trim_start_matches(' ').to_owned()
}
