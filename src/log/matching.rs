//! Whether what somebody looks for stands in a field of a card: by whole words, whatever their
//! capitals and however their letters are written.

use unicode_normalization::UnicodeNormalization;

/// What parts the values of a field that holds several: `Mirek; Anouk`.
const BETWEEN_VALUES: char = ';';

/// The values a field holds, in the order in which they stand there.
pub fn values(field: &str) -> impl Iterator<Item = &str> {
    field.split(BETWEEN_VALUES).map(str::trim).filter(|value| !value.is_empty())
}

/// Whether the words of `asked` stand in one value of `field`, next to each other and in that order:
/// `batch 4` stands in `Brook, batch 4`, and neither `batch` nor `b` stands in `Batches`.
pub fn stands_in(asked: &str, field: &str) -> bool {
    let asked = words(asked);
    !asked.is_empty()
        && values(field).any(|value| {
            let found = words(value);
            found.windows(asked.len()).any(|part| part == asked)
        })
}

/// `text` as it is compared with another: letters in their compatibility form (Unicode's form KC:
/// `ﬁ` is `fi`, `Ａ` is `A`), in small letters, one space between words.
pub fn folded(text: &str) -> String {
    words(text).join(" ")
}

/// The words of a text, folded. What is neither letter nor digit parts them.
fn words(text: &str) -> Vec<String> {
    // Capitals first and small letters after: ß and SS, ς and σ become one.
    let folded: String = text.nfkc().collect::<String>().to_uppercase().to_lowercase();
    let folded: String = folded.nfkc().collect();
    let is_part = |letter: char| letter.is_alphanumeric() || is_mark(letter);
    folded
        .split(|letter: char| !is_part(letter))
        .filter(|w| !w.is_empty())
        .map(Into::into)
        .collect()
}

/// Accents that have no letter of their own to stand on belong to the word.
fn is_mark(letter: char) -> bool {
    unicode_normalization::char::is_combining_mark(letter)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_match_whole_and_in_their_order() {
        let cane = "Brook, batch B-4";
        for asked in ["brook", "BATCH", "batch b 4", "b", "b-4", "Brook batch"] {
            assert!(stands_in(asked, cane), "{asked}");
        }
        for asked in ["bro", "ba", "4 batch", "brook b", "", " , "] {
            assert!(!stands_in(asked, cane), "{asked}");
        }
    }

    #[test]
    fn a_field_may_hold_several_values_and_no_words_reach_from_one_to_the_next() {
        let owners = "Mirek Novák; Anouk ; ";
        assert_eq!(values(owners).collect::<Vec<_>>(), ["Mirek Novák", "Anouk"]);
        assert!(stands_in("anouk", owners) && !stands_in("novák anouk", owners));
    }

    /// Unicode, from memory: U+00E9 is U+0065 U+0301, U+FB01 the ligature fi, ß and SS fold alike.
    #[test]
    fn capitals_and_forms_of_letters_do_not_matter() {
        for (asked, field) in [
            ("NOVA\u{301}K", "Mirek Novák"),
            ("figaro", "\u{fb01}garo"),
            ("STRASSE", "Straße"),
            ("ΣΟΦΟΣ", "σοφος"),
            ("Ａ４", "a4"),
        ] {
            assert!(stands_in(asked, field), "{asked} in {field}");
            assert_eq!(folded(asked), folded(field).split(' ').next_back().unwrap_or_default());
        }
    }
}
