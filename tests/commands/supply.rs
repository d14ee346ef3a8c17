//! There is a reason for each part that the program is built of. Where parts come from, and under which
//! licences, `scripts/deny` checks.

use std::collections::BTreeSet;
use std::process::Command;

use serde_json::Value;

/// What `Cargo.toml` names, for whatever system, as cargo tells it.
fn named() -> BTreeSet<String> {
    let output = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()))
        .args(["metadata", "--no-deps", "--format-version", "1", "--locked", "--manifest-path"])
        .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/Cargo.toml"))
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let about: Value = serde_json::from_slice(&output.stdout).unwrap();
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
