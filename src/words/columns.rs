//! What the columns of the tables of takes and of crows hold.

/// Of the table of takes, besides the figures.
pub mod take {
    pub(crate) const SOURCE: &str = "path of the recording";
    pub(crate) const ERROR: &str = "why it could not be read; empty where it was";
    pub(crate) const DURATION: &str = "length of the take in seconds";
    pub(crate) const CROW_COUNT: &str = "crows that sound; air noise is not counted";
    pub(crate) const KIND: &str = "commonest kind of them: octaves, blended (one tone or octaves, \
        the sound does not tell), single, split or unsettled";
    pub(crate) const MOVE: &str = "the next move";
    pub(crate) const AMOUNT: &str = "how much of it, in millimetres";
    pub(crate) const WHERE: &str = "where on the reed";
    pub(crate) const CONFIDENCE: &str = "how sure that is, 0 to 1";
    pub(crate) const WARNINGS: &str =
        "codes of what makes the reading doubtful, separated by blanks";
    pub(crate) const CROWS: &str = "every crow: start-end in seconds, kind, cents from the target \
        (from the nearest note without one); separated by semicolons";
    pub(crate) const SAMPLE_RATE: &str = "samples per second";
    pub(crate) const CHANNELS: &str = "channels of the recording";
    pub(crate) const CHANNEL: &str = "the channel read, counted from 1";
    pub(crate) const A4: &str = "the pitch of A4 in Hz";
    pub(crate) const PROFILE: &str = "name of the profile";
    pub(crate) const SHA256: &str = "of the file's content";
    pub(crate) const VERSION: &str = "version of the program that read it";
    pub(crate) const SETTINGS: &str = "stands for the profile, A4 and channel asked for";
}

/// Of the table of crows, besides the figures.
pub mod crow {
    pub(crate) const PLACE: &str = "which crow of it, counted from 1; breaths are counted too";
    pub(crate) const START: &str =
        "where its sound begins, breath included, in seconds of the recording";
    pub(crate) const END: &str = "where it ends";
    pub(crate) const KIND: &str = "octaves, blended, single, split, unsettled or breath";
}

/// Over the columns of the table of crows.
pub const OF_CROWS: &str = "Of the table that --crows makes, each crow's own:";

/// With what it tells the ear, if anything.
pub fn with_ear(says: &str, ear: &str) -> String {
    match ear {
        "" => says.to_owned(),
        ear => format!("{says}; it tells {ear}"),
    }
}

/// Of an octave, counted from the lowest that sounds, 0.
pub fn of_octave(index: usize, says: &str) -> String {
    match index {
        0 => format!("the lowest octave: {says}"),
        1 => "the same of the next octave".to_owned(),
        _ => "the same of the third octave".to_owned(),
    }
}

/// Of an octave band.
pub fn of_band(centre_hz: u32, says: &str, is_first: bool) -> String {
    let about = match centre_hz {
        1000.. => format!("about {} kHz", centre_hz / 1000),
        _ => format!("about {centre_hz} Hz"),
    };
    if is_first { format!("{about}: {says}") } else { format!("the same {about}") }
}
