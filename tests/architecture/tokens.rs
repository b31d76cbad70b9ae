//! Rust source as words and signs, without comments, text literals and test code.

/// A word or a sign, and its line, counted from 1.
#[derive(Clone, Debug, PartialEq)]
pub struct Token {
    pub text: String,
    pub line: usize,
}

/// The tokens of a source; `::` is one, every other sign stands alone.
pub fn tokens(source: &str) -> Vec<Token> {
    let signs: Vec<char> = source.chars().collect();
    let mut found = Vec::new();
    let (mut at, mut line) = (0, 1);
    while at < signs.len() {
        let end = end_of_token(&signs, at);
        let text: String = signs[at..end].iter().collect();
        let first = signs[at];
        let is_code = !first.is_whitespace() && !is_comment(&text) && !is_literal(&text);
        let is_code = is_code || is_lifetime(&signs, at);
        let lines = text.matches('\n').count();
        if is_code {
            found.push(Token { text, line });
        }
        line += lines;
        at = end;
    }
    found
}

fn is_comment(text: &str) -> bool {
    text.starts_with("//") || text.starts_with("/*")
}

fn is_literal(text: &str) -> bool {
    text.starts_with(['"', '\'']) || (text.contains('"') && text.starts_with(['r', 'b', 'c']))
}

fn is_lifetime(signs: &[char], at: usize) -> bool {
    signs[at] == '\'' && !is_character(signs, at)
}

/// Whether the quote at `at` begins a character and not a lifetime.
fn is_character(signs: &[char], at: usize) -> bool {
    signs.get(at + 1) == Some(&'\\') || signs.get(at + 2) == Some(&'\'')
}

fn is_word(sign: char) -> bool {
    sign.is_alphanumeric() || sign == '_'
}

fn end_of_token(signs: &[char], at: usize) -> usize {
    let rest = &signs[at..];
    let find = |from: usize, good: &dyn Fn(usize) -> bool| {
        (from..rest.len()).find(|&i| good(i)).unwrap_or(rest.len())
    };
    let length = match rest {
        ['/', '/', ..] => find(2, &|i| rest[i] == '\n'),
        ['/', '*', ..] => end_of_block_comment(rest),
        [':', ':', ..] => 2,
        ['"', ..] => end_of_text(rest, 0),
        ['b' | 'c', '"', ..] => end_of_text(rest, 1),
        ['r', '"' | '#', ..] if raw_hashes(rest, 1).is_some() => end_of_raw(rest, 1),
        ['b' | 'c', 'r', '"' | '#', ..] if raw_hashes(rest, 2).is_some() => end_of_raw(rest, 2),
        ['\'', '\\', ..] => find(3, &|i| rest[i] == '\'') + 1,
        ['\'', ..] if is_character(signs, at) => 3,
        ['\'', ..] => find(1, &|i| !is_word(rest[i])),
        [first, ..] if is_word(*first) => find(1, &|i| !is_word(rest[i])),
        _ => 1,
    };
    (at + length).min(signs.len())
}

fn end_of_block_comment(rest: &[char]) -> usize {
    let (mut depth, mut at) = (0, 0);
    while at < rest.len() {
        match &rest[at..] {
            ['/', '*', ..] => (depth, at) = (depth + 1, at + 2),
            ['*', '/', ..] => (depth, at) = (depth - 1, at + 2),
            _ => at += 1,
        }
        if depth == 0 {
            break;
        }
    }
    at
}

fn end_of_text(rest: &[char], quote: usize) -> usize {
    let mut at = quote + 1;
    while at < rest.len() && rest[at] != '"' {
        at += if rest[at] == '\\' { 2 } else { 1 };
    }
    at + 1
}

/// How many `#` stand before the quote of a raw text; none if it is no raw text.
fn raw_hashes(rest: &[char], from: usize) -> Option<usize> {
    let hashes = rest[from..].iter().take_while(|&&c| c == '#').count();
    (rest.get(from + hashes) == Some(&'"')).then_some(hashes)
}

fn end_of_raw(rest: &[char], from: usize) -> usize {
    let hashes = raw_hashes(rest, from).unwrap_or(0);
    let start = from + hashes + 1;
    let closes = |at: &usize| {
        rest[*at] == '"' && rest[at + 1..].iter().take_while(|&&c| c == '#').count() >= hashes
    };
    (start..rest.len())
        .find(closes)
        .map_or(rest.len(), |at| at + 1 + hashes)
}

/// Position of the bracket that closes the one at `open`, or the end.
pub fn closing(tokens: &[Token], open: usize) -> usize {
    let mut depth = 0;
    for (at, token) in tokens.iter().enumerate().skip(open) {
        match token.text.as_str() {
            "{" | "(" | "[" => depth += 1,
            "}" | ")" | "]" => depth -= 1,
            _ => {}
        }
        if depth == 0 {
            return at;
        }
    }
    tokens.len().saturating_sub(1)
}

/// Position of the sign that ends the item at `from`: a `;`, or the `}` of its body.
pub fn end_of_item(tokens: &[Token], from: usize) -> usize {
    let mut at = from;
    while at < tokens.len() {
        match tokens[at].text.as_str() {
            ";" => return at,
            "{" => return closing(tokens, at),
            "(" | "[" => at = closing(tokens, at),
            _ => {}
        }
        at += 1;
    }
    tokens.len().saturating_sub(1)
}

/// The tokens without what `#[cfg(test)]` stands before.
pub fn without_tests(tokens: &[Token]) -> Vec<Token> {
    let is_test = |at: usize| {
        let words = ["#", "[", "cfg", "(", "test", ")", "]"];
        let here = tokens[at..].iter().map(|token| token.text.as_str());
        here.take(words.len()).eq(words)
    };
    let mut kept = Vec::new();
    let mut at = 0;
    while at < tokens.len() {
        if !is_test(at) {
            kept.push(tokens[at].clone());
            at += 1;
            continue;
        }
        while tokens.get(at).is_some_and(|token| token.text == "#") {
            at = closing(tokens, at + 1) + 1;
        }
        at = end_of_item(tokens, at) + 1;
    }
    kept
}
