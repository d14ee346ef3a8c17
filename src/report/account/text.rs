//! An account as plain text that is Markdown too.

use super::letter::Letter;
use crate::report::terminal::Style;

/// Lines of the style's width; without a style a paragraph to a line, for mails and files.
pub fn text(letter: &Letter, style: Option<&Style>) -> String {
    let mut lines: Vec<String> = Vec::new();
    let mut put = |head: &str, line: &str| match style {
        Some(style) => lines.extend(style.wrapped(head, line)),
        None => lines.push(format!("{head}{line}")),
    };
    if let Some(sender) = &letter.sender {
        put("", &plain(&sender.name));
        sender.lines.iter().for_each(|line| put("", &plain(line)));
        put("", "");
    }
    put("", &letter.date);
    put("", "");
    put("# ", &plain(&letter.title));
    put("", "");
    if let Some(owner) = &letter.owner {
        put("", &plain(owner));
        put("", "");
    }
    if let Some(table) = &letter.table {
        put("## ", &table.title);
        put("", "");
        for row in &table.rows {
            let cells = table.head.iter().zip(row).filter(|(_, cell)| !cell.is_empty());
            let cells: Vec<String> =
                cells.map(|(name, cell)| format!("{name}: {}", plain(cell))).collect();
            put("- ", &cells.join("; "));
        }
        put("", "");
    }
    for part in &letter.parts {
        if let Some(title) = &part.title {
            put("## ", &plain(title));
            put("", "");
        }
        let level = if part.title.is_some() { "### " } else { "## " };
        for section in &part.sections {
            put(level, &section.title);
            put("", "");
            section.items.iter().for_each(|item| put("- ", &plain(&item.sentence.text())));
            put("", "");
        }
    }
    put("## ", &letter.care.title);
    put("", "");
    letter.care.items.iter().for_each(|item| put("- ", &plain(&item.sentence.text())));
    lines.into_iter().map(|line| line + "\n").collect()
}

/// Words that Markdown takes for nothing but words: on one line, and what would be a link, an emphasis, a
/// heading, an entity or markup with a backslash before it. Addresses too, which some readers of Markdown link
/// by themselves.
fn plain(text: &str) -> String {
    let text = crate::words::format::one_line(text);
    let mut safe = String::with_capacity(text.len());
    for (at, letter) in text.char_indices() {
        let means_something = match letter {
            ':' => text[at..].starts_with("://"),
            '.' => text[..at].ends_with("www"),
            '&' => text[at + 1..].starts_with(|next: char| next == '#' || next.is_alphabetic()),
            _ => r"\`*_[]<>#|!~".contains(letter),
        };
        if means_something {
            safe.push('\\');
        }
        safe.push(letter);
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_notes_stay_words() {
        assert_eq!(plain("<b>[Mirek](a)\n# 1"), "\\<b\\>\\[Mirek\\](a) \\# 1");
        assert_eq!(
            plain("http://x.de www.x.de: A & B &lt;"),
            "http\\://x.de www\\.x.de: A & B \\&lt;"
        );
        assert_eq!(plain("70.6 mm, flat."), "70.6 mm, flat.");
    }
}
