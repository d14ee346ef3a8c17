//! How wide, in what colours and in what letters text is shown.

/// What the terminal can show. Colour only ever repeats what the words say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Style {
    /// Columns.
    pub width: usize,
    /// Whether colour is wanted and can be shown.
    pub color: bool,
    /// Whether letters outside ASCII can be shown.
    pub unicode: bool,
}

impl Default for Style {
    /// As in a file: 80 columns, no colour.
    fn default() -> Self {
        Self { width: 80, color: false, unicode: true }
    }
}

/// What a piece of text is, for its colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// The figure to see first.
    Headline,
    /// What to do next.
    Move,
    /// What to beware of.
    Warning,
    /// What can be skipped.
    Aside,
}

impl Style {
    /// What stands behind the escape character in all that [`Style::paint`] writes.
    pub const CODES: [&str; 5] = ["[0m", "[1m", "[1;36m", "[33m", "[2m"];

    /// `text` in the colour of its role.
    pub fn paint(&self, role: Role, text: &str) -> String {
        if !self.color || text.is_empty() {
            return text.to_owned();
        }
        // Codes of ECMA-48: 1 bold, 2 faint, 33 yellow, 36 cyan, 0 back to normal.
        let code = match role {
            Role::Headline => "1",
            Role::Move => "1;36",
            Role::Warning => "33",
            Role::Aside => "2",
        };
        format!("\x1b[{code}m{text}\x1b[0m")
    }

    /// `text` in the letters that can be shown.
    pub fn letters(&self, text: String) -> String {
        if self.unicode { text } else { crate::words::format::to_ascii(&text) }
    }

    /// `text` broken into lines of the style's width: the first after `label`, the others indented
    /// as far. A number and its unit stay together; words longer than a line stand alone on one.
    pub fn wrapped(&self, label: &str, text: &str) -> Vec<String> {
        let indent = label.chars().count();
        let mut lines = vec![label.to_owned()];
        let mut used = indent;
        // Some signs take more columns in ASCII.
        let text = self.letters(text.to_owned());
        for piece in unbroken(&text) {
            let length = piece.chars().count();
            if used > indent && used + 1 + length > self.width {
                lines.push(" ".repeat(indent));
                used = indent;
            }
            if let Some(line) = lines.last_mut() {
                if used > indent {
                    line.push(' ');
                    used += 1;
                }
                line.push_str(&piece);
                used += length;
            }
        }
        lines
    }
}

impl Style {
    /// A text of several lines, each broken where it is too long, under what stands behind its indent
    /// and its columns of figures, which two spaces part from words.
    pub fn lines(&self, text: &str) -> String {
        let broken = text.lines().flat_map(|line| {
            let words = line.rfind("  ").map_or(0, |gap| gap + 2);
            match line.split_at_checked(words) {
                Some((label, words)) if !words.is_empty() => self.wrapped(label, words),
                _ => vec![self.letters(line.to_owned())],
            }
        });
        broken.map(|line| line + "\n").collect()
    }
}

/// The words of a text, with each unit joined to the number before it.
fn unbroken(text: &str) -> Vec<String> {
    const UNITS: [&str; 7] = ["Hz", "kHz", "dB", "s", "mm", "cents", "%"];
    let mut pieces: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let bare = word.trim_matches(|mark: char| matches!(mark, ',' | '.' | ';' | ':' | ')'));
        match pieces.last_mut() {
            Some(before)
                if UNITS.contains(&bare) && before.ends_with(|c: char| c.is_ascii_digit()) =>
            {
                before.push(' ');
                before.push_str(word);
            }
            _ => pieces.push(word.to_owned()),
        }
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_wraps_at_the_width_under_its_label() {
        let style = Style { width: 20, ..Style::default() };
        assert_eq!(
            style.wrapped("Then: ", "crow it again three times"),
            ["Then: crow it again", "      three times"]
        );
        assert_eq!(
            style.wrapped("Level ", "about 0.8 or 18 dB."),
            ["Level about 0.8 or", "      18 dB."]
        );
    }

    #[test]
    fn colour_is_only_added_where_it_is_wanted() {
        let plain = Style::default();
        assert_eq!(plain.paint(Role::Move, "clip"), "clip");
        let colored = Style { color: true, ..plain };
        assert_eq!(colored.paint(Role::Move, "clip"), "\x1b[1;36mclip\x1b[0m");
    }
}
