//! Free words after an option.

/// Any words, also such as begin with a dash: shapes are called `-1`. Not what looks like the next
/// option.
pub(super) fn words(text: &str) -> Result<String, String> {
    match text.starts_with("--") {
        true => Err("looks like another option; put the words before it".to_owned()),
        false => Ok(text.to_owned()),
    }
}
