//! There is a reason for each part that the program is built of. Where parts come from, and under which
//! licences, `scripts/deny` checks.

use std::collections::BTreeSet;
use std::process::Command;

use serde_json::Value;

/// What cargo tells of the workspace.
fn metadata(more: &[&str]) -> Value {
    let output = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()))
        .args(["metadata", "--format-version", "1", "--locked", "--manifest-path"])
        .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/Cargo.toml"))
        .args(more)
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

/// What `Cargo.toml` names, for whatever system, as cargo tells it.
fn named() -> BTreeSet<String> {
    let about = metadata(&["--no-deps"]);
    let packages = about["packages"].as_array().unwrap();
    let ours = packages.iter().find(|package| package["name"] == "reedcrow").unwrap();
    let dependencies = ours["dependencies"].as_array().unwrap().iter();
    dependencies
        .map(|dependency| dependency["name"].as_str().unwrap().to_owned())
        .filter(|name| !name.starts_with("reedcrow"))
        .collect()
}

#[test]
fn every_dependency_has_its_reason_in_developers_md() {
    let told = include_str!("../../DEVELOPERS.md");
    let told = told.split("## Dependencies").nth(1).unwrap().split("\n## ").next().unwrap();
    let rows = told.lines().filter(|line| line.starts_with("| `"));
    let reasons: BTreeSet<String> = rows
        .filter_map(|row| row.split('|').nth(1))
        .flat_map(|names| names.split('`').skip(1).step_by(2).map(str::to_owned))
        .collect();
    assert_eq!(named(), reasons);
}

/// Cargo refuses to build a package with a Rust older than it names.
#[test]
fn no_part_wants_a_later_rust_than_cargo_toml_names() {
    // Of the system the tests run on: parts for others need not be here.
    let rustc = std::env::var_os("RUSTC").unwrap_or_else(|| "rustc".into());
    let told = Command::new(rustc).arg("-vV").output().unwrap().stdout;
    let told = String::from_utf8(told).unwrap();
    let host = told.lines().find_map(|line| line.strip_prefix("host: ")).unwrap();
    let about = metadata(&["--filter-platform", host]);
    let nodes = about["resolve"]["nodes"].as_array().unwrap();
    let mut found = BTreeSet::new();
    let mut waiting = vec![about["resolve"]["root"].as_str().unwrap()];
    while let Some(id) = waiting.pop() {
        if found.insert(id) {
            let node = nodes.iter().find(|node| node["id"] == id).unwrap();
            // What only tests want is built with the Rust that tests want.
            let is_built = |part: &&Value| {
                part["dep_kinds"].as_array().unwrap().iter().any(|of| of["kind"] != "dev")
            };
            let parts = node["deps"].as_array().unwrap().iter().filter(is_built);
            waiting.extend(parts.map(|part| part["pkg"].as_str().unwrap()));
        }
    }
    // Of three numbers the last is no new Rust.
    let version = |package: &Value| -> Option<Vec<u32>> {
        let numbers = package["rust_version"].as_str()?.split('.').take(2);
        numbers.map(|number| number.parse().ok()).collect()
    };
    let packages = about["packages"].as_array().unwrap();
    let ours = packages.iter().find(|package| package["name"] == "reedcrow").unwrap();
    let ours = version(ours).unwrap();
    assert!(found.len() > 100, "{}", found.len());
    for package in packages.iter().filter(|one| found.contains(one["id"].as_str().unwrap())) {
        let wanted = version(package).unwrap_or_default();
        assert!(wanted <= ours, "{} wants Rust {wanted:?}", package["name"]);
    }
}
