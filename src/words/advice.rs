//! The next move in words: what to do, where, and what to take care of.

use std::fmt::{self, Display, Formatter};
use std::path::Path;

use crate::advice::{
    Advice, Caution, Expected, Explained, If, Lost, Numbers, Other, Reason, Speaks, Then, Wanted,
    Where, is_for_the_ear,
};
use crate::dsp::statistics::NORMAL_95;
use crate::pitch::Note;
use crate::reading::Kind;
use crate::reed::{Finding, Move, Place, WORK};
use crate::units::Millimetres;
use crate::words::format::{LengthUnit, counted};
use crate::words::reed::finding;
use crate::words::voices::{kind_word, means};

/// A move in one or two words, for a cell of a table: its code, where that is what a maker says.
pub fn short(next: Move) -> &'static str {
    match next {
        Move::Recrow => "crow again",
        Move::Leave => "leave it",
        _ => next.code(),
    }
}

/// A move as an order, as it begins a headline.
pub fn order(next: Move, at: &Where) -> &'static str {
    match next {
        Move::Look if is_for_the_ear(at) => "Listen to it, cut nothing",
        Move::Clip => "Clip the end",
        Move::Tip => "Work on the tip",
        Move::Heart => "Scrape the heart",
        Move::Back => "Scrape the back",
        Move::Opening => "Press the opening, cut nothing",
        Move::Seal => "Seal the leak",
        Move::Retie => "Tie it again",
        Move::Measure => "Measure it, cut nothing",
        Move::Look => "Look at it, cut nothing",
        Move::Recrow => "Crow it again, cut nothing",
        Move::Leave => "Leave it alone",
        Move::Stop => "Stop, and give this reed up",
    }
}

/// Where a move is made; `None` where it has no place, or where the order says it already.
pub fn place(next: Move, at: &Where) -> Option<String> {
    match at {
        Where::Nowhere => None,
        Where::At(place) => of_place(next, *place).map(str::to_owned),
        Where::Wanted(wanted) => {
            let each: Vec<&str> = wanted.iter().map(|one| asked(next, *one)).collect();
            match each.as_slice() {
                [] => None,
                [first @ .., last] if !first.is_empty() => {
                    Some(format!("{} and {last}", first.join(", ")))
                }
                [only] => Some((*only).to_owned()),
                _ => None,
            }
        }
    }
}

fn of_place(next: Move, place: Place) -> Option<&'static str> {
    let row = WORK.iter().find(|row| row.of == next && row.place == Some(place))?;
    Some(row.told).filter(|told| !told.is_empty())
}

fn asked(next: Move, wanted: Wanted) -> &'static str {
    match (next, wanted) {
        (Move::Look, Wanted::Heart) => "the heart against the light",
        (_, Wanted::Length) => "the length",
        (_, Wanted::Staple) => "the staple",
        (_, Wanted::Winding) => "where the winding ends",
        (_, Wanted::Window) => "where the windows begin",
        (_, Wanted::Heart) => "where the heart ends",
        (_, Wanted::Tip) => "where the tip begins",
        (_, Wanted::Opening) => "the opening",
        (_, Wanted::Leak) => "leaks (close the tip and blow)",
        (_, Wanted::TipSides) => "the sides of the tip",
        (_, Wanted::Corners) => "the corners of the tip",
        (_, Wanted::Bark) => "the bark on the rails",
        (_, Wanted::Symmetry) => "both blades, whether they are alike",
        (_, Wanted::Overlap) => "how the blades overlap",
        (_, Wanted::Ear) => "what you hear: octaves, or one tone?",
    }
}

impl Display for Speaks {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        match self {
            Self::Heard { octaves, crows, signs, rattle_hz, unsure } => {
                match (*octaves, *crows) {
                    _ if *unsure > 0 => match (*unsure, *crows) {
                        (1, 1) => write!(
                            f,
                            "the crow may be octaves or one tone: the sound does not tell"
                        )?,
                        (unsure, crows) => {
                            let all = if unsure == crows {
                                "all ".into()
                            } else {
                                format!("{unsure} of ")
                            };
                            write!(
                                f,
                                "{all}{crows} crows may be octaves or one tone: the sound does not tell"
                            )?;
                        }
                    },
                    (1, 1) => write!(f, "the crow is in octaves")?,
                    (0, 1) => write!(f, "the crow is not in octaves")?,
                    (2, 2) => write!(f, "both crows are in octaves")?,
                    (all, crows) if all == crows => write!(f, "all {crows} crows are in octaves")?,
                    (0, crows) => write!(f, "none of {crows} crows is in octaves")?,
                    (some, crows) => {
                        write!(f, "{some} of {crows} crows are in octaves: it is near a border")?;
                    }
                }
                let more = ["the low octave comes late, weakly or by turns", "it is hard to blow", "it is rough"];
                let heard = more.iter().zip(signs).filter(|(_, heard)| **heard);
                heard.into_iter().try_for_each(|(says, _)| write!(f, "; {says}"))?;
                rattle_hz.map_or(Ok(()), |hz| write!(f, "; it rattles {hz:.0} times a second"))
            }
            Self::NothingHeard => {
                f.write_str("no crow was heard, so nothing can be said about how it sounds")
            }
            Self::OnlyAir => f.write_str("it gives air, and no crow"),
            Self::Pitch { cents, target, limit_cents } => {
                f.write_str(&off_target(*cents, *target, *limit_cents))
            }
            Self::Cause { says, sure, is_likeliest } => {
                let what = if *is_likeliest { "likeliest cause" } else { "what it is for" };
                write!(f, "{what}: {says} ({})", percent(*sure))
            }
            Self::MayBe { says, sure } => write!(f, "{says} ({})", percent(*sure)),
            Self::HeldBack => f.write_str(
                "a leak or a winding past the staple can hold a crow back, and no scraping helps that",
            ),
            Self::NothingWrong(sure) => {
                write!(f, "most likely nothing is wrong with it ({})", percent(*sure))
            }
            Self::CutHarms => f.write_str("the next cut is likelier to harm than to help"),
            Self::CrowsDiffer => {
                f.write_str("the crows differ too much in pitch to say how much to cut")
            }
            Self::OneCrow => f.write_str("one crow is too few to cut by"),
            Self::Scattered(sd_cents) => write!(
                f,
                "its pitch does not hold: from crow to crow it differs by ±{sd_cents:.0} cents; blow \
                 them all at one strength"
            ),
            Self::OtherKind => f.write_str(
                "so far off it may be another kind of reed: check the profile, its target and A4",
            ),
            Self::Lowers => f.write_str("cane taken off there lets the pitch fall"),
            Self::PastHelp => f.write_str("it may be past help"),
            Self::MoreWouldTell => f.write_str("the answer may change the next cut"),
        }
    }
}

fn off_target(cents: f64, target: Option<Note>, limit: f64) -> String {
    let target = target.map_or_else(|| "the target".to_owned(), |note| note.to_string());
    let side = if cents < 0.0 { "flat" } else { "sharp" };
    let size = cents.abs();
    if size < 0.5 {
        return format!("it is on {target}");
    }
    let told = if (format!("{size:.0}").parse::<f64>().unwrap_or(size) > limit) == (size > limit) {
        format!("{size:.0}")
    } else {
        format!("{size:.2}")
    };
    let within = if size <= limit { "within" } else { "past" };
    let unit = if told == "1" { "cent" } else { "cents" };
    format!("it is {told} {unit} {side} of {target}, {within} the {limit:.0} that count as in tune")
}

/// Lengths nearer than this are the same one, in millimetres: the log keeps micrometres.
const SAME_MM: f64 = 1e-3;

/// What speaks for a move, in one sentence.
///
/// * `found`: what ruler and eyes found on the reed, so that a reason which rests on the ruler tells its
///   lengths in `unit`.
pub fn reason(reason: &Reason, found: &[Finding], unit: LengthUnit) -> String {
    let is_it = |one: &&Finding| {
        let values = one.value_mm.zip(reason.value);
        one.figure == reason.figure && values.is_some_and(|(a, b)| (a - b).abs() < SAME_MM)
    };
    match (found.iter().find(is_it), unit) {
        (None, _) | (_, LengthUnit::Millimetres) => reason.says.clone(),
        (Some(found), unit) => finding(found, unit),
    }
}

/// Where the pitch should lie after a clip; `None` for what is not done for the pitch.
pub fn pitch_after(advice: &Advice) -> Option<String> {
    let is_pitch = |one: &&Expected| one.figure == "fundamental.target_cents";
    let pitch = advice.expected.iter().find(is_pitch).filter(|_| advice.next == Move::Clip)?;
    let side = |cents: f64| match cents.round() {
        0.0 => "0".to_owned(),
        flat if flat < 0.0 => format!("{:.0} flat", -flat),
        sharp => format!("{sharp:.0} sharp"),
    };
    Some(format!(
        "cents from the target after it: {}; 19 times in 20 from {} to {}",
        side(pitch.value),
        side(pitch.low),
        side(pitch.high)
    ))
}

/// Another move that is worth nearly as much, with what speaks for it.
pub fn or_else(other: &Other) -> String {
    let speaks = if other.says.is_empty() { String::new() } else { format!("; {}", other.says) };
    let told = whole(other.next, &other.r#where);
    match other.next.asks() {
        true => told + &speaks,
        false => format!("{told} ({} sure){speaks}", percent(other.chance.helps)),
    }
}

/// No chance of a move or a cause is told as more than this, in hundredths.
const SUREST: f64 = 99.0;

pub fn percent(share: f64) -> String {
    // Of cane nothing is certain.
    format!("{:.0} %", (share * 100.0).floor().min(SUREST))
}

impl Display for Then {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let crow = match self.crows {
            1 => "crow once".to_owned(),
            2 => "crow twice".to_owned(),
            3 => "crow three times".to_owned(),
            more => format!("crow {more} times"),
        };
        f.write_str(&after(self, &crow))
    }
}

fn after(then: &Then, crow: &str) -> String {
    match (then.next, then.place) {
        (Move::Clip, _) => format!("Then {crow} and compare before the next cut."),
        (Move::Tip | Move::Heart | Move::Back, _) => {
            format!("Light strokes, the same on all four quarters; then {crow} and compare.")
        }
        (Move::Opening, _) => format!(
            "Wet it through, take the plaque out and press for some seconds; then {crow}. By tomorrow \
             it may have sprung back."
        ),
        (Move::Seal, Some(Place::Heart)) => format!(
            "It rarely holds there. Let a sealer dry out first; then close the tip and blow to see, and \
             {crow}. If it still leaks, give it up, and look at the edges of the shape for the next."
        ),
        (Move::Seal, _) => format!(
            "Tape or wrap it, or let a sealer dry out; then close the tip and blow: if it is tight, \
             {crow}."
        ),
        (Move::Retie, _) => format!(
            "Wind no further than the staple's end; let it dry, soak it, then {crow}. If it chokes \
             still, measure where the winding ends now."
        ),
        (Move::Measure, _) => "From the bottom of the staple, the reed wet; then ask again.".into(),
        (Move::Look, _) if then.by_ear => {
            "Listen to it, and say what you hear: 'heard octaves' or 'heard low' at the bench, 'reedcrow \
             reed heard' for a take on a card."
                .into()
        }
        (Move::Look, _) => "Against the light, both blades; say what you see, or crow on.".into(),
        (Move::Recrow, _) => format!(
            "A second or so each, at one strength, lips at the winding: {crow}, with a little silence \
             before and after."
        ),
        (Move::Leave, _) => {
            "Let it rest overnight and crow it again: a new reed changes. Cane cannot be put back."
                .into()
        }
        (Move::Stop, _) => {
            let next = match &then.lost {
                Lost::TooShort => "tie it longer, or stop scraping the tip earlier",
                Lost::Cause(next) => next,
                Lost::Unknown => "look it over and measure it before the first crow",
            };
            let first = match &then.lost {
                Lost::TooShort => "Measure it once more first. ",
                _ => "",
            };
            format!("{first}Keep it for practice if it can be played. On the next one, {next}.")
        }
    }
}

const BLADE: &str = "Knife and razor: cut away from your fingers, with a plaque between the blades; \
                     keep the blade sharp and put it down closed. Local rules for tools hold.";
const CLIP: &str = "Clip on a block, fingers behind the blade; a clip cannot be undone. A fresh cut can leave a \
                    sharp edge or a splinter: look before you blow.";
const SCRAPE: &str = "Cane cannot be put back: light strokes, and crow between them.";
const SEALER: &str = "Keep sealers, glue and varnish off what the lips touch, use what its maker calls \
                      safe for that, let it dry out, and keep the air moving meanwhile; follow its \
                      label and local rules.";
const THREAD: &str = "Pull the thread with a cloth or a peg, not round bare fingers: drawn tight it cuts. Warm \
                      beeswax no hotter than it needs to melt, and let glue dry in moving air, off what \
                      the lips touch.";
const OPENING: &str = "Press a reed only when it is wet, slowly, with clean hands and the plaque \
                       taken out: a dry one cracks. Look at the tip before it goes to the lips.";
const MOUTHS: &str = "A reed belongs in one mouth: rinse it and disinfect it by your local hygiene \
                      rules before another player crows it. With a sore mouth or a cold, crow only your own.";
const LIPS: &str = "A splinter at a chipped corner can cut a lip: look at it before you blow.";

impl Display for Caution {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Clip => CLIP,
            Self::Scrape => SCRAPE,
            Self::Blade => BLADE,
            Self::Sealer => SEALER,
            Self::Thread => THREAD,
            Self::Opening => OPENING,
            Self::Splinter => LIPS,
            Self::Mouths => MOUTHS,
            Self::MeasureFirst(mm) => {
                let least = Millimetres(*mm);
                return write!(
                    f,
                    "Measure the length first: what is left must be {least} or more."
                );
            }
        })
    }
}

/// A move with its place, in the middle of a sentence: `tip, the sides of the tip, all four alike`.
fn whole(next: Move, at: &Where) -> String {
    match place(next, at) {
        Some(place) => format!("{}: {place}", short(next)),
        None => short(next).to_owned(),
    }
}

/// How tables of one's own come to be used.
///
/// * `usual`: where they are looked for, if anywhere.
pub fn own_practice(usual: Option<&Path>, variable: &str) -> String {
    let lies = usual.map_or_else(String::new, |file| format!("lies at {}, or is ", file.display()));
    format!("change it; it counts where it {lies}named by {variable}")
}

/// Before what is wrong with such tables.
pub fn practice_tables(file: &Path) -> String {
    format!("{}: the tables behind the advice", file.display())
}

/// Why the adviser says what it says: first in a maker's words, then every number.
pub fn explained(of: &Explained) -> String {
    let told = whole(of.advice.next, &of.advice.r#where);
    let headline = match of.advice.next.asks() {
        true => told,
        false => format!("{told} ({} that it helps)", percent(of.advice.chance.helps)),
    };
    let mut sheet = Sheet { lines: vec![headline] };
    sheet.in_words(of);
    sheet.numbers(of);
    let source = |(of, from): &(Numbers, String)| format!("{}: {from}", numbers(*of));
    sheet.part("Who says so", of.sources.iter().map(source));
    sheet.lines.join("\n") + "\n"
}

/// What explains a move, as it grows part by part.
struct Sheet {
    lines: Vec<String>,
}

impl Sheet {
    /// Nothing where there is no line of it.
    fn part(&mut self, title: &str, each: impl Iterator<Item = String>) {
        let mut each = each.map(|line| format!("  {line}")).peekable();
        if each.peek().is_some() {
            self.lines.extend([String::new(), title.to_owned()]);
            self.lines.extend(each);
        }
    }

    /// What a maker would say of it.
    fn in_words(&mut self, of: &Explained) {
        let advice = &of.advice;
        self.part("What speaks for it", advice.because.iter().map(|reason| reason.says.clone()));
        let likely = of.believed.iter().filter(|one| one.now >= 0.1).take(5);
        self.part(
            "What I believe about this reed",
            likely.map(|one| format!("{} ({})", one.says, percent(one.now))),
        );
        self.part(
            "What I would do if the next three crows were",
            of.if_heard.iter().map(|(asked, next, at)| {
                let octaves = means(Kind::Octaves, false);
                let heard = match asked {
                    If::Flat => format!("{octaves}, 40 cents flat"),
                    If::Sharp => format!("{octaves}, 40 cents sharp"),
                    If::Split => kind_word(Kind::Split, false).to_owned(),
                };
                format!("{heard}: {}", whole(*next, at))
            }),
        );
        self.part(
            "If the same is heard after it",
            advice.if_again.iter().map(|again| whole(again.next, &again.r#where)),
        );
        // From none to all says nothing.
        let tells = |one: &&Expected| one.figure != "octaves" || one.low > 0.0 || one.high < 1.0;
        let told = advice.expected.iter().filter(tells).map(expected);
        self.part("What three crows after it should be", told);
    }

    /// Every number that the move rests on.
    fn numbers(&mut self, of: &Explained) {
        self.part(
            "The numbers: each move weighed (worth; chance that it helps, that it harms)",
            of.weighed.iter().map(|one| {
                let (helps, harms) = (percent(one.helps), percent(one.harms));
                format!("{:.3}  {helps:>4}  {harms:>4}  {}", one.worth, whole(one.next, &one.at))
            }),
        );
        self.part(
            "Each cause: how likely before anything was heard, and now; who says how it is known",
            of.believed.iter().map(|one| {
                let (before, now) = (percent(one.before), percent(one.now));
                format!("{before:>4}  {now:>4}  {} ({})", one.says, one.from)
            }),
        );
        // Beside the upper octave alone, one tone is the low one; beside all others, air is air alone.
        let names = [
            kind_word(Kind::Octaves, false),
            "one low tone",
            means(Kind::Single, true),
            kind_word(Kind::Split, false),
            kind_word(Kind::Unsettled, false),
            "air alone",
        ];
        let next_crow = names.iter().zip(of.next_crow);
        self.part(
            "The next crow should be",
            next_crow.map(|(name, p)| format!("{:>4}  {name}", percent(p))),
        );
        let clip = format!(
            "{:.0} ±{:.0} cents a millimetre, by practice and {}",
            of.clip.mean,
            NORMAL_95 * of.clip.sd,
            counted(of.clip.cuts, "logged clip")
        );
        self.part("A clip of this reed", std::iter::once(clip));
    }
}

/// What a figure should be once a move is made.
fn expected(one: &Expected) -> String {
    match one.figure.as_str() {
        "octaves" => format!(
            "{}: {:.0} of 3 (from {:.0} to {:.0})",
            means(Kind::Octaves, false),
            one.value * 3.0,
            one.low * 3.0,
            one.high * 3.0
        ),
        _ => format!(
            "{:+.0} cents from the target (19 times in 20 from {:+.0} to {:+.0})",
            one.value, one.low, one.high
        ),
    }
}

/// What numbers that stand behind advice are of.
fn numbers(of: Numbers) -> &'static str {
    match of {
        Numbers::Work(cut) => cut.words(),
        Numbers::Crow => "how reeds crow",
        Numbers::Hand => "what a round takes, and what places bear",
        Numbers::Clip => "cents a millimetre",
        Numbers::Worth => "what a move is worth",
    }
}
