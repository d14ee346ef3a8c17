//! What the program says of itself to who types its name alone, what a command's own help adds, and what
//! was typed wrongly.

/// What `reedcrow` alone says it is.
pub const WELCOME: &str = "\
reedcrow listens to the crow of a double reed: its pitch against A = 440, whether it sounds in octaves \
that stand together, how it is balanced and how readily it speaks. It compares before and after a cut, \
and proposes the next one with its reasons. Your ear has the last word: cane cannot be put back.";

/// What people do first, and what it is for.
pub const FIRST: [(&str, &str); 4] = [
    ("reedcrow bench", "open the bench in your browser"),
    ("reedcrow listen", "crow into the microphone, hands free"),
    ("reedcrow analyse take.wav", "read a recording"),
    ("reedcrow devices --check", "see whether the microphone is fit for crowing"),
];
/// Over them.
pub const DONE_FIRST: &str = "What people do first:";
/// Under them.
pub const ALL_ELSE: &str = "'reedcrow help' lists everything else.";

/// What the help of `batch` says beside its options.
pub const OF_BATCH: &str = "\
Reads WAV (RF64 and Wave64 too), FLAC, MP3, AAC, ALAC and Opus in M4A, MP4, MOV and 3GP, with or \
without a picture, Opus and Vorbis in Ogg and WebM, AIFF and CAF; the content decides, not the ending \
of the name. AMR and WMA are not read: they get a row that says so; 'ffmpeg -i FILE out.wav', or any \
other converter, makes WAV of them. Of a folder, hidden files and files that are not recordings are passed over.

Rows stand in the order of the paths, a folder's in the order of the names. While it runs, the \
table is TABLE.part beside its place. Ctrl-C finishes it with the rows there are, and --resume \
goes on from there; finished rows of recordings that are not named again, or not there any more, \
stay. A table that is there already is left alone without --resume or --replace, and no output \
takes the place of a recording, or of a file that is not an output of the same kind.

Exit code: 0 when every recording was read, 1 when some were not, 130 after Ctrl-C.";

/// A command that only has others under it.
pub fn does_nothing(command: &str) -> String {
    format!("'{command}' does nothing alone; say what it is to do")
}

/// A number under 0 where there is none.
pub fn too_small(word: &str) -> String {
    format!("'{word}' is below 0, and no such thing can be: write it without the minus")
}

/// An option that there is not.
pub fn no_option(option: &str, beside: &[String]) -> String {
    format!("there is no option '{option}' here{}", meant(beside))
}

/// A word where nothing more is wanted.
pub fn one_too_many(word: &str) -> String {
    format!("'{word}' is one word too many")
}

/// A command that there is not.
pub fn no_command(word: &str, beside: &[String]) -> String {
    format!("there is no command '{word}' here{}", meant(beside))
}

/// What must be there and is not.
pub fn missing(what: &[String]) -> String {
    format!("something is missing: {}", what.join(", "))
}

/// An option that may be given once.
pub fn twice(option: &str) -> String {
    format!("{option} is there twice; give it once")
}

/// Options of which one may be given.
pub fn not_both(one: &str, other: &str) -> String {
    format!("{one} and {other} do not go together; give one of them")
}

/// A word that is none of those an option takes.
pub fn no_choice(word: &str, option: &str, choices: &[String], beside: &[String]) -> String {
    format!("{option} does not take '{word}'{}: it is {}", meant(beside), or(choices))
}

/// An option without what belongs behind it.
pub fn wants_value(option: &str, choices: &[String]) -> String {
    match choices {
        [] => format!("something is missing behind {option}"),
        choices => format!("something is missing behind {option}: it is {}", or(choices)),
    }
}

/// A value that its option does not take, and why.
pub fn no_value(value: &str, option: &str, why: &str) -> String {
    match why.contains(value) {
        true => format!("{option}: {why}"),
        false => format!("{option} does not take '{value}': {why}"),
    }
}

/// What may have been meant.
fn meant(beside: &[String]) -> String {
    match beside {
        [] => String::new(),
        beside => format!(" (did you mean {}?)", or(beside)),
    }
}

fn or(words: &[String]) -> String {
    match words {
        [first @ .., last] if !first.is_empty() => format!("{} or {last}", first.join(", ")),
        words => words.concat(),
    }
}

/// What is wrong, and where the right words stand.
pub fn with_help(what: &str, command: &str) -> String {
    format!("{what}; '{command} --help' shows what can be typed")
}

/// What libraries say of a number that they cannot read, and the same in plain words.
pub const PLAINER: [(&str, &str); 8] = [
    ("invalid digit found in string", "that is not a whole number"),
    (" is not in ", " is outside "),
    ("..=", " to "),
    ("invalid float literal", "that is not a number"),
    ("cannot parse integer from empty string", "a number is missing"),
    ("cannot parse float from empty string", "a number is missing"),
    ("number too large to fit in target type", "that is too much"),
    ("number too small to fit in target type", "that is too little"),
];
