//! No arrow goes back: what a folder or a file names of the others, it may be named of by none of them,
//! at whatever remove. Drawn from the paths in the code, tests apart.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use walkdir::WalkDir;

/// A module, by its names from the root on.
type Module = Vec<String>;

/// Within a folder: who names whom.
type Arrows = BTreeMap<String, BTreeSet<String>>;

fn module_of(path: &Path) -> Module {
    let mut names: Module =
        path.with_extension("").iter().map(|name| name.to_string_lossy().into_owned()).collect();
    if names.last().is_some_and(|name| ["mod", "lib", "main"].contains(&name.as_str())) {
        names.pop();
    }
    names
}

/// Code without its comments and its tests, which stand at the end of a file.
fn code(text: &str) -> String {
    let code = text.split("#[cfg(test)]\nmod tests {").next().unwrap_or_default();
    let lines = code.lines().filter(|line| !line.trim_start().starts_with("//"));
    lines.flat_map(|line| [line, "\n"]).collect()
}

/// Every path that begins with `crate` or `super`, with each of the names in its braces.
fn paths(code: &str) -> Vec<Vec<&str>> {
    let is_name = |letter: char| letter.is_alphanumeric() || letter == '_';
    let name_at = |from: usize| {
        let rest = &code[from..];
        &rest[..rest.find(|letter| !is_name(letter)).unwrap_or(rest.len())]
    };
    let mut paths = Vec::new();
    for start in ["crate::", "super::"] {
        for (at, _) in code.match_indices(start) {
            if code[..at].ends_with(|before: char| is_name(before) || before == ':') {
                continue;
            }
            let mut path = Vec::new();
            let mut place = at;
            loop {
                let name = name_at(place);
                path.push(name);
                place += name.len();
                match code[place..].strip_prefix("::") {
                    Some(_) => place += 2,
                    None => break,
                }
            }
            let braced = code[place..].strip_prefix('{').filter(|_| path.last() == Some(&""));
            let names = braced.map(|inner| inner.split('}').next().unwrap_or_default());
            path.retain(|name| !name.is_empty());
            let each = names.into_iter().flat_map(|names| names.split([',', '{']));
            let each = each.map(|name| name.trim().split("::").next().unwrap_or_default());
            let with: Vec<Vec<&str>> =
                each.map(|name| path.iter().copied().chain([name]).collect()).collect();
            paths.extend(with);
            paths.push(path);
        }
    }
    paths
}

/// What a path that stands in `module` names: as much of it as is a module.
fn named(path: &[&str], module: &[String], modules: &BTreeSet<&Module>) -> Module {
    let mut base: Module = if path[0] == "crate" { Vec::new() } else { module.to_vec() };
    let up = path.iter().take_while(|name| **name == "super").count();
    base.truncate(base.len().saturating_sub(up));
    let down = path.iter().skip_while(|name| ["crate", "super"].contains(name));
    base.extend(down.map(|name| (*name).to_owned()));
    while !base.is_empty() && !modules.contains(&base) {
        base.pop();
    }
    base
}

/// The arrows within each folder.
fn arrows(files: &BTreeMap<Module, String>) -> BTreeMap<String, Arrows> {
    let modules: BTreeSet<&Module> = files.keys().collect();
    let mut all: BTreeMap<String, Arrows> = BTreeMap::new();
    for (module, text) in files {
        for path in paths(&code(text)) {
            let to = named(&path, module, &modules);
            let common = module.iter().zip(&to).take_while(|(own, other)| own == other).count();
            if let (Some(own), Some(other)) = (module.get(common), to.get(common)) {
                let folder = all.entry(module[..common].join("/")).or_default();
                folder.entry(own.clone()).or_default().insert(other.clone());
            }
        }
    }
    all
}

/// Those of a folder that lead back to themselves.
fn circles(arrows: &Arrows) -> Vec<String> {
    let leads_back = |from: &&String| {
        let mut seen: BTreeSet<&String> = BTreeSet::new();
        let mut next: Vec<&String> = arrows[*from].iter().collect();
        while let Some(name) = next.pop() {
            if seen.insert(name) {
                next.extend(arrows.get(name).into_iter().flatten());
            }
        }
        seen.contains(from)
    };
    arrows.keys().filter(leads_back).cloned().collect()
}

#[test]
fn no_arrow_goes_back() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = BTreeMap::new();
    for entry in WalkDir::new(&root) {
        let path = entry.unwrap().into_path();
        let is_test = path.file_stem().is_some_and(|name| name == "tests" || name == "testing");
        if path.extension().is_some_and(|ending| ending == "rs") && !is_test {
            let module = module_of(path.strip_prefix(&root).unwrap());
            files
                .entry(module)
                .or_insert_with(String::new)
                .push_str(&fs::read_to_string(&path).unwrap());
        }
    }
    let all = arrows(&files);
    let count: usize = all.values().flat_map(BTreeMap::values).map(BTreeSet::len).sum();
    assert!(all.len() > 25 && count > 500, "{} folders, {count} arrows", all.len());
    for (folder, arrows) in &all {
        let back = circles(arrows);
        let who: Vec<_> = back.iter().map(|name| (name, &arrows[name])).collect();
        assert!(back.is_empty(), "in src/{folder} arrows lead back: {who:?}");
    }
}

#[test]
fn an_arrow_that_goes_back_is_seen() {
    let house = |files: &[(&str, &str)]| -> Vec<String> {
        let files: BTreeMap<Module, String> =
            files.iter().map(|(path, text)| (module_of(Path::new(path)), (*text).into())).collect();
        arrows(&files).values().flat_map(circles).collect()
    };
    let (crow, bench) = ("use crate::reed::Reed;", "use crate::crow::{Kind, Crow};");
    assert_eq!(house(&[("crow.rs", crow), ("bench.rs", bench), ("reed.rs", "")]), [""; 0]);
    let back = "fn tell(of: super::bench::Desk) {}";
    assert_eq!(
        house(&[("crow.rs", crow), ("bench.rs", bench), ("reed.rs", back)]),
        ["bench", "crow", "reed"]
    );
    let in_test = "#[cfg(test)]\nmod tests {\n    use crate::bench::Desk;\n}";
    assert_eq!(house(&[("crow.rs", crow), ("bench.rs", bench), ("reed.rs", in_test)]), [""; 0]);
    let grouped =
        [("a/mod.rs", "use super::{b::One, c};"), ("b.rs", "use crate::a::X;"), ("c.rs", "")];
    assert_eq!(house(&grouped), ["a", "b"]);
}
