//! Text as HTML.

/// `text` as HTML text or attribute value; characters that no document may hold become U+FFFD.
pub(super) fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            control if control.is_control() => safe.push('\u{fffd}'),
            other => safe.push(other),
        }
    }
    safe
}
