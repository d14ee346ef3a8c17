//! What the program is built of: where it comes from, under which licences, and that there is a reason
//! for each part.

use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

use serde_json::Value;

/// What the program may be built of, as cargo deny is told.
fn allowed(table: &str, list: &str) -> Vec<String> {
    let rules: toml::Table = include_str!("../../scripts/deny.toml").parse().unwrap();
    let list = rules[table][list].as_array().unwrap();
    list.iter().map(|one| one.as_str().unwrap().to_owned()).collect()
}

const CRATES_IO: &str = "registry+https://github.com/rust-lang/crates.io-index";

/// Every package of the tree, as cargo tells it.
fn packages() -> Vec<Value> {
    let output = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()))
        .args(["metadata", "--format-version", "1", "--locked", "--manifest-path"])
        .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/Cargo.toml"))
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let about: Value = serde_json::from_slice(&output.stdout).unwrap();
    about["packages"].as_array().unwrap().clone()
}

fn text<'a>(package: &'a Value, field: &str) -> &'a str {
    package[field].as_str().unwrap_or_default()
}

/// Whether a licence, as SPDX writes them (ISO/IEC 5962, annex D), lets us ship: one of what stands
/// between OR and all of what stands between AND. Older packages write / for OR.
fn lets_us_ship(licence: &str) -> bool {
    let licences = allowed("licenses", "allow");
    let licence = licence.replace('/', " OR ").replace(['(', ')'], " ");
    let is_free = |one: &str| {
        let name = one.split(" WITH ").next().unwrap_or_default().trim();
        licences.iter().any(|licence| licence == name)
    };
    // The expressions that occur have their ORs in brackets, under one AND.
    licence.split(" AND ").all(|part| part.split(" OR ").any(is_free))
}

#[test]
fn licences_are_read_as_they_are_meant() {
    for free in ["MIT", "MIT OR GPL-3.0", "(MIT OR Apache-2.0) AND Unicode-3.0", "Unlicense/MIT"] {
        assert!(lets_us_ship(free), "{free}");
    }
    for bound in ["GPL-3.0-only", "MIT AND GPL-2.0", "", "(MIT OR Zlib) AND AGPL-3.0"] {
        assert!(!lets_us_ship(bound), "{bound}");
    }
}

#[test]
fn every_part_comes_from_where_it_should_under_a_licence_that_lets_us_ship() {
    let lock = include_str!("../../Cargo.lock");
    let mut versions: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for package in packages() {
        let (name, version) = (text(&package, "name"), text(&package, "version"));
        assert!(lets_us_ship(text(&package, "license")), "{name}: {}", package["license"]);
        versions.entry(name.to_owned()).or_default().insert(version.to_owned());
        if name.starts_with("reedcrow") {
            continue;
        }
        assert_eq!(package["source"].as_str(), Some(CRATES_IO), "{name}");
        let entry = format!(
            "name = \"{name}\"\nversion = \"{version}\"\nsource = \"{CRATES_IO}\"\nchecksum = \""
        );
        assert!(lock.contains(&entry), "{name} {version} has no checksum");
    }
    let twice = versions.iter().filter(|(_, versions)| versions.len() > 1);
    let known = allowed("bans", "skip");
    let new: Vec<_> = twice.filter(|(name, _)| !known.contains(name)).collect();
    assert!(new.is_empty(), "in several versions: {new:?}");
}

#[test]
fn every_dependency_has_its_reason_in_developers_md() {
    let told = include_str!("../../DEVELOPERS.md");
    let told = told.split("## Dependencies").nth(1).unwrap().split("\n## ").next().unwrap();
    let packages = packages();
    let ours = packages.iter().find(|package| text(package, "name") == "reedcrow").unwrap();
    let used: BTreeSet<&str> = ours["dependencies"]
        .as_array()
        .unwrap()
        .iter()
        .map(|dependency| text(dependency, "name"))
        .filter(|name| !name.starts_with("reedcrow"))
        .collect();
    let rows = told.lines().filter(|line| line.starts_with("| `"));
    let reasons: BTreeSet<&str> = rows
        .filter_map(|row| row.split('|').nth(1))
        .flat_map(|names| names.split('`').skip(1).step_by(2))
        .collect();
    assert_eq!(used, reasons);
}
