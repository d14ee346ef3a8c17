//! Completions and manual pages, made from the commands themselves.

use std::fs;

use crate::{Bench, ending};

#[test]
fn each_shell_gets_completions_that_know_the_commands() {
    let bench = Bench::new();
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let end = ending(&mut bench.reedcrow(&["completions", shell]));
        assert_eq!((end.code, end.errors.as_str()), (Some(0), ""), "{shell}");
        assert!(end.output.contains("analyse") && end.output.contains("listen"), "{shell}");
    }
}

/// A reed's label is no file, and a kind of reed has a name.
#[test]
fn no_file_names_are_offered_for_labels_and_profiles() {
    let bench = Bench::new();
    let script = ending(&mut bench.reedcrow(&["completions", "zsh"])).output;
    // What zsh offers where it is told nothing; labels, texts and numbers are told otherwise.
    let labels = || script.lines().filter(|line| line.contains("label -- The reed"));
    assert!(labels().count() > 5, "{script}");
    assert!(labels().all(|line| !line.contains("_default") && !line.contains("_files")));
    let profiles = || script.lines().filter(|line| line.starts_with("'--profile=[Kind"));
    assert!(profiles().count() > 2 && profiles().all(|line| line.contains("english-horn")));
    assert!(script.lines().any(|line| line.contains("_files")), "recordings are files");
}

#[test]
fn the_manual_page_is_one_that_man_can_show() {
    let end = ending(&mut Bench::new().reedcrow(&["man"]));
    assert_eq!(end.code, Some(0));
    // man(7): a page begins with its title, and has a name and a synopsis.
    for section in [".TH reedcrow 1", ".SH NAME", ".SH SYNOPSIS"] {
        assert!(end.output.contains(section), "{section}");
    }
}

#[test]
fn a_folder_gets_a_page_for_each_command() {
    let bench = Bench::new();
    let end = ending(&mut bench.reedcrow(&["man", "pages"]));
    assert_eq!((end.code, end.output.as_str()), (Some(0), ""));
    for page in ["reedcrow.1", "reedcrow-analyse.1", "reedcrow-listen.1", "reedcrow-batch.1"] {
        let text = fs::read_to_string(bench.path("pages").join(page)).unwrap();
        assert!(text.contains(".TH"), "{page}");
    }
    bench.bytes("taken", b"a file");
    let end = ending(&mut bench.reedcrow(&["man", "taken"]));
    assert_eq!(end.code, Some(1));
    assert!(end.errors.starts_with("reedcrow: taken: "), "{}", end.errors);
    assert_eq!(end.errors.lines().count(), 1);
}
