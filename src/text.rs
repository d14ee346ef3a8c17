//! Letters that are not what they look like.

use unicode_normalization::UnicodeNormalization;

/// Whether a letter shows nothing of itself and may change what stands about it: control characters,
/// the beginnings of a terminal's commands among them, ends of lines, and what turns the direction of
/// writing (Unicode's bidirectional formatting characters, from memory).
pub fn is_unseen(letter: char) -> bool {
    letter.is_control()
        || matches!(
            letter,
            '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}'
        )
}

/// `text` with what is unseen written out, as JSON writes it: `\n`, `\u001b`.
pub fn visible(text: &str) -> String {
    written_out(text, is_unseen)
}

/// `text` with the letters that are `hidden` written out.
pub fn written_out(text: &str, hidden: impl Fn(char) -> bool) -> String {
    text.chars().fold(String::with_capacity(text.len()), |mut line, letter| {
        match letter {
            '\n' | '\t' | '\r' if hidden(letter) => line.extend(letter.escape_default()),
            _ if hidden(letter) => line += &format!("\\u{:04x}", u32::from(letter)),
            _ => line.push(letter),
        }
        line
    })
}

/// `text` with each letter and its accents as one character where there is one (Unicode's form C):
/// keyboards and disks write é in either way, and both look alike.
pub fn composed(text: &str) -> String {
    text.nfc().collect()
}

/// Whether a spreadsheet may run a cell that begins like this: as a formula does, also where blanks or what
/// takes no room stand first, which some pass over, and in the wide letters of East Asian keyboards. What
/// those are: OWASP, "CSV Injection", from memory.
pub fn begins_as_formula(cell: &str) -> bool {
    let shown = cell.trim_start_matches(|letter| letter == ' ' || is_without_width(letter));
    shown.starts_with(['=', '+', '-', '@', '＝', '＋', '－', '＠'])
        || cell.starts_with(['\t', '\r', '\n'])
}

/// A cell of a table so that no spreadsheet runs it: with an apostrophe before what begins as a formula
/// does, unless it is a number.
pub fn inert(cell: String) -> String {
    let is_run = begins_as_formula(&cell) && cell.parse::<f64>().is_err();
    if is_run { format!("'{cell}") } else { cell }
}

/// Whether a letter takes no room of its own, or looks like a space and is none: two names that
/// differ in such letters look alike. Unicode's Default_Ignorable_Code_Point and White_Space, from
/// memory.
pub fn is_without_width(letter: char) -> bool {
    letter.is_whitespace() && letter != ' '
        || matches!(
            u32::from(letter),
            0xad | 0x34f
                | 0x61c
                | 0x115f
                | 0x1160
                | 0x17b4
                | 0x17b5
                | 0x180b..=0x180f
                | 0x200b..=0x200f
                | 0x202a..=0x202e
                | 0x2060..=0x206f
                | 0x2800
                | 0x3164
                | 0xfe00..=0xfe0f
                | 0xfeff
                | 0xffa0
                | 0xfff0..=0xfff8
                | 0x1bca0..=0x1bca3
                | 0x1d173..=0x1d17a
                | 0xe0000..=0xe0fff
        )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_unseen_is_written_out() {
        assert_eq!(visible("a\nb\tcé.wav"), "a\\nb\\tcé.wav");
        assert_eq!(visible("\u{1b}[31mred\u{7}"), "\\u001b[31mred\\u0007");
        assert_eq!(visible("take\u{202e}vaw.exe"), "take\\u202evaw.exe");
    }

    /// Unicode, U+00E9: its decomposition is U+0065 U+0301.
    #[test]
    fn letters_of_either_form_are_one() {
        assert_eq!(composed("e\u{301}te\u{301}"), "\u{e9}t\u{e9}");
    }

    #[test]
    fn no_spreadsheet_runs_a_cell() {
        for (cell, written) in [
            ("=1+2", "'=1+2"),
            ("-lost crow", "'-lost crow"),
            ("@sum", "'@sum"),
            ("\t=1", "'\t=1"),
            (" =1", "' =1"),
            ("\u{feff}=1", "'\u{feff}=1"),
            ("\u{ad}@sum", "'\u{ad}@sum"),
            ("＝1", "'＝1"),
            ("-12.5", "-12.5"),
            ("+3e2", "+3e2"),
            ("a=1", "a=1"),
            ("", ""),
        ] {
            assert_eq!(inert(cell.into()), written);
        }
    }
}
