//! No function is longer than a page, no file longer than a reader keeps in mind. Of code as `cargo fmt`
//! leaves it: a function ends with the brace that stands as far in as it does.

use std::fs;
use std::path::Path;

use walkdir::WalkDir;

/// Lines of a function, from `fn` to its last brace.
const LONGEST_FUNCTION: usize = 76;

/// A file has fewer lines than this.
const LONG_FILE: usize = 500;

/// The name of the function that begins in a line, if one does.
fn begun(line: &str) -> Option<&str> {
    let (before, name) = line.trim_start().split_once("fn ")?;
    let is_marked = before.split_whitespace().all(|word| {
        ["const", "async", "unsafe", "extern", "\"C\""].contains(&word)
            || word.starts_with("pub")
            || word.ends_with(')')
    });
    let end = name.find(|letter: char| !letter.is_alphanumeric() && letter != '_')?;
    is_marked.then(|| &name[..end]).filter(|name| !name.is_empty())
}

/// The functions of a file that are too long, each with its lines.
fn long_functions(text: &str) -> Vec<(&str, usize)> {
    let lines: Vec<&str> = text.lines().collect();
    let mut long = Vec::new();
    for (at, line) in lines.iter().enumerate() {
        let Some(name) = begun(line) else { continue };
        let indent = &line[..line.len() - line.trim_start().len()];
        let is_end = |line: &&str| line.strip_prefix(indent).is_some_and(|rest| rest == "}");
        // One of a trait has no body, one of a single line no brace of its own.
        let is_whole = |line: &&str| line.ends_with(';') || line.ends_with('}');
        let length = match is_whole(line) {
            true => 1,
            false => lines[at..].iter().position(is_end).map_or(1, |end| end + 1),
        };
        if length > LONGEST_FUNCTION {
            long.push((name, length));
        }
    }
    long
}

#[test]
fn no_function_and_no_file_is_too_long_to_read() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let (mut files, mut functions, mut long) = (0, 0, Vec::new());
    for folder in ["src", "tests"] {
        let is_ours = |name: &std::ffi::OsStr| name != "node_modules" && name != "target";
        let entries = WalkDir::new(root.join(folder)).into_iter();
        for entry in entries.filter_entry(|entry| is_ours(entry.file_name())) {
            let path = entry.unwrap().into_path();
            if path.extension().is_none_or(|ending| ending != "rs") {
                continue;
            }
            let text = fs::read_to_string(&path).unwrap();
            let name = path.strip_prefix(root).unwrap().display();
            let lines = text.lines().count();
            if lines >= LONG_FILE {
                long.push(format!("{name} has {lines} lines"));
            }
            let told = long_functions(&text).into_iter();
            long.extend(told.map(|(of, lines)| format!("{name}: {of} has {lines} lines")));
            functions += text.lines().filter_map(begun).count();
            files += 1;
        }
    }
    assert!(files > 300 && functions > 3000, "{files} files with {functions} functions were found");
    assert!(long.is_empty(), "split these along their own seams:\n{}", long.join("\n"));
}

#[test]
fn a_function_that_is_one_line_too_long_is_found() {
    let of = |lines: usize| {
        let body = "        work();\n".repeat(lines - 2);
        format!(
            "impl Reed {{\n    pub(super) const fn cut(&self) {{\n{body}    }}\n\n    fn crow() {{}}\n}}\n"
        )
    };
    assert_eq!(long_functions(&of(LONGEST_FUNCTION)), []);
    let over = LONGEST_FUNCTION + 1;
    assert_eq!(long_functions(&of(over)), [("cut", over)]);
    assert_eq!(begun("    pub(in crate::log) async fn kept<T>(&self)"), Some("kept"));
    assert_eq!(
        [begun("// a fn is not begun here"), begun("let of = |fn_of: u8| 1;")],
        [None, None]
    );
}
