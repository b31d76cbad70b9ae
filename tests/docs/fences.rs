//! Commands and outputs in the fenced blocks of a page.

/// A command, and what the page says that it prints.
#[derive(Debug, PartialEq)]
pub struct Shown {
    pub command: String,
    pub output: Option<String>,
}

/// What a page shows of `underfoot`, and the variables it sets, in order. Of other programs
/// nothing.
pub fn shown(page: &str) -> Vec<Shown> {
    let mut all = Vec::new();
    let mut lines = page.lines();
    while let Some(line) = lines.next() {
        let Some(language) = line.trim().strip_prefix("```") else {
            continue;
        };
        let block: Vec<&str> = lines
            .by_ref()
            .take_while(|line| line.trim() != "```")
            .collect();
        match language {
            "sh" | "bash" => all.extend(commands(&block)),
            "console" => all.extend(session(&block)),
            _ => {}
        }
    }
    all
}

/// The commands of a block without outputs.
fn commands(block: &[&str]) -> Vec<Shown> {
    let joined = block.join("\n").replace("\\\n", " ");
    joined
        .lines()
        .map(str::trim)
        .filter(|line| line.starts_with("underfoot ") || line.starts_with("export "))
        .map(|line| Shown {
            command: line.to_owned(),
            output: None,
        })
        .collect()
}

/// Commands behind a prompt, each with the lines that follow.
fn session(block: &[&str]) -> Vec<Shown> {
    let mut all: Vec<Shown> = Vec::new();
    for line in block {
        match (line.strip_prefix("$ "), all.last_mut()) {
            (Some(command), _) => all.push(Shown {
                command: command.to_owned(),
                output: Some(String::new()),
            }),
            (None, Some(Shown { output, .. })) => {
                let output = output.get_or_insert_default();
                output.push_str(line);
                output.push('\n');
            }
            (None, None) => panic!("an output without a command: {line}"),
        }
    }
    all.retain(|shown| shown.command.starts_with("underfoot "));
    all
}

#[test]
fn commands_and_outputs_are_told_apart() {
    let page = "```sh\nmake demo\nunderfoot load \\\n  plan # a word\n```\ntext\n\
                ```console\n$ underfoot squad\nThree\n\nfour\n$ ls\nx\n```\n```text\nno\n```\n";
    let told = |command: &str, output: Option<&str>| Shown {
        command: command.to_owned(),
        output: output.map(str::to_owned),
    };
    assert_eq!(
        shown(page),
        [
            told("underfoot load    plan # a word", None),
            told("underfoot squad", Some("Three\n\nfour\n")),
        ]
    );
}
