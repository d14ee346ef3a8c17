//! `reedcrow` alone, its help, and what is typed wrong.

use crate::golden::held;
use crate::{Bench, ending};

#[test]
fn alone_it_says_what_it_is_and_what_people_do_first() {
    let end = ending(&mut Bench::new().reedcrow(&[]));
    assert_eq!((end.code, end.errors.as_str()), (Some(0), ""));
    insta::assert_snapshot!(end.output, @r"
reedcrow listens to the crow of a double reed: its pitch against A = 440,
whether it sounds in octaves that stand together, how it is balanced and how
readily it speaks. It compares before and after a cut, and proposes the next one
with its reasons. Your ear has the last word: cane cannot be put back.

What people do first:
  reedcrow bench               open the bench in your browser
  reedcrow listen              crow into the microphone, hands free
  reedcrow analyse take.wav    read a recording
  reedcrow devices --check     see whether the microphone is fit for crowing
'reedcrow help' lists everything else.
");
}

#[test]
fn help_names_every_command() {
    let end = ending(&mut Bench::new().reedcrow(&["--help"]));
    assert_eq!(end.code, Some(0));
    for command in ["analyse", "listen", "devices", "compare", "reed", "log", "batch", "profile"] {
        assert!(end.output.contains(&format!("\n  {command} ")), "{command}");
    }
}

#[test]
fn what_is_typed_wrong_ends_with_2_and_says_what_is_right() {
    let bench = Bench::new();
    let mut told = String::new();
    for arguments in [
        &["analyse"][..],
        &["analise", "x.wav"],
        &["analyse", "x.wav", "--a4", "300"],
        &["analyse", "x.wav", "--a4", "high"],
        &["analyse", "x.wav", "--channel", "0"],
        &["completions", "cobol"],
        &["batch"],
        &["batch", "x", "--resume"],
        &["listen", "--pause", "never"],
        &["devices", "--chek"],
        &["compare", "a.wav"],
        &["reed"],
        &["reed", "step"],
        &["log", "chekc"],
        &["profile", "--nothing"],
    ] {
        let end = ending(&mut bench.reedcrow(arguments));
        assert_eq!(end.code, Some(2), "{arguments:?}");
        told.push_str(&end.errors);
        assert!(end.errors.starts_with("reedcrow: "), "{}", end.errors);
        assert_eq!(end.errors.lines().count(), 1, "{}", end.errors);
        assert_eq!(end.output, "");
    }
    held("goldens", "typed-wrong", &told);
}
