//! The line at the foot of the terminal that shows level, what sounds, and whether a crow would be
//! caught. Only on a terminal.

use std::io::{self, IsTerminal, Stderr, Write, stderr, stdout};
use std::time::{Duration, Instant};

use crossterm::cursor::{MoveToColumn, MoveUp, RestorePosition, SavePosition};
use crossterm::queue;
use crossterm::style::Print;
use crossterm::terminal::{Clear, ClearType, size};

use super::foot::Foot;
use crate::capture::{LEAST_DBFS, Listening};
use crate::cli::output;
use crate::pitch::{A4, Note, cents_from_target};
use crate::profile::Profile;
use crate::reading::how_loud;
use crate::report::terminal::Style;
use crate::text::visible;
use crate::units::Hertz;
use crate::words::format::{number, signed};
use crate::words::prompt as words;

/// Faster than this the eye does not follow, and slow terminals flicker.
const DRAW_EVERY: Duration = Duration::from_millis(80);

/// Levels shown by the bar, in dBFS.
const BAR_DBFS: (f64, f64) = (-80.0, 0.0);
const BAR_CELLS: usize = 6;

/// Columns from which on there is room for the bar, and for which take it is.
const WIDE: usize = 80;

/// Columns under which the pitch is told from its note alone, and the state in the fewest words.
const NARROW: usize = 56;

/// The line.
pub(super) struct LiveLine {
    terminal: Option<Stderr>,
    target: Option<Note>,
    a4: A4,
    style: Style,
    drawn: Option<Instant>,
    /// Whether a line below it is left for typing.
    with_typing: bool,
    /// The lines that stay, where the terminal is large enough for them.
    foot: Option<Foot>,
}

impl LiveLine {
    pub fn new(profile: &Profile, a4: A4, style: Style) -> Self {
        let terminal = stderr().is_terminal().then(stderr);
        Self {
            terminal,
            target: profile.target,
            a4,
            style,
            drawn: None,
            with_typing: false,
            foot: None,
        }
    }

    /// The same with a line below it in which commands are typed, and above it what stays in sight.
    pub fn above_typing(self) -> Self {
        let foot = (self.terminal.is_some() && stdout().is_terminal()).then(Foot::begin);
        Self { with_typing: true, foot: foot.flatten(), ..self }
    }

    /// Whether pitch, kind and next move stay in sight, so that they need not be repeated.
    pub fn stays(&self) -> bool {
        self.foot.is_some()
    }

    /// What stays in sight from now on.
    pub fn stand(&mut self, told: [String; 2]) {
        if let Some(foot) = &mut self.foot {
            told.iter().for_each(|line| output::tells(line));
            foot.tell(told.map(|line| self.style.letters(line)));
        }
    }

    /// Prints lines above.
    ///
    /// Errors: nobody reads standard output any more.
    pub fn print(&mut self, text: &str) -> io::Result<()> {
        match &self.foot {
            Some(foot) => foot.print(&output::safe(text)),
            None => {
                self.clear();
                output::print(text)
            }
        }
    }

    /// Says what went wrong.
    pub fn complain(&mut self, text: &str) {
        match &self.foot {
            Some(foot) => {
                let lines = self.style.wrapped("", &visible(text)).join("\n");
                // That nobody can read it is no reason to stop.
                let _ = foot.print(&output::safe(&lines));
            }
            None => {
                self.clear();
                output::complain(text);
            }
        }
    }

    /// Gives the whole terminal back.
    pub fn end(&mut self) {
        self.clear();
        self.foot = None;
    }

    /// What the tones are told against from now on.
    pub fn hold_to(&mut self, profile: &Profile, a4: A4) {
        (self.target, self.a4) = (profile.target, a4);
    }

    /// After a line was typed: the cursor stands two lines below the live one.
    pub fn typed(&mut self) {
        if let Some(foot) = &self.foot {
            return foot.typed();
        }
        let Some(terminal) = &mut self.terminal else { return };
        if self.drawn.take().is_some() {
            let _ = queue!(
                terminal,
                SavePosition,
                MoveUp(2),
                MoveToColumn(0),
                Clear(ClearType::CurrentLine),
                RestorePosition
            );
            let _ = terminal.flush();
        }
    }

    /// Shows what is listened to, unless it was drawn just before.
    pub fn draw(&mut self, listening: impl FnOnce() -> Listening) {
        if self.drawn.is_some_and(|drawn| drawn.elapsed() < DRAW_EVERY) {
            return;
        }
        let listening = &listening();
        if let Some(foot) = &mut self.foot {
            foot.follow();
            let width = size().map_or(80, |(columns, _)| usize::from(columns));
            foot.live(&self.style.letters(line(listening, self.target, self.a4, width)));
            self.drawn = Some(Instant::now());
            return;
        }
        let Some(terminal) = &mut self.terminal else { return };
        let width = size().map_or(80, |(columns, _)| usize::from(columns));
        let text = self.style.letters(line(listening, self.target, self.a4, width));
        // A line that wraps could not be wiped.
        let fitting: String = text.chars().take(width.saturating_sub(1)).collect();
        // A terminal that cannot be written to has no one who would miss the line.
        if self.with_typing {
            if self.drawn.is_none() {
                let _ = queue!(terminal, Print("\n"));
            }
            let _ = queue!(terminal, SavePosition, MoveUp(1));
        }
        let _ = queue!(terminal, MoveToColumn(0), Print(fitting), Clear(ClearType::UntilNewLine));
        if self.with_typing {
            let _ = queue!(terminal, RestorePosition);
        }
        let _ = terminal.flush();
        self.drawn = Some(Instant::now());
    }

    /// Shows that nothing is listened to.
    pub fn draw_paused(&mut self) {
        if self.drawn.is_some_and(|drawn| drawn.elapsed() < DRAW_EVERY) {
            return;
        }
        if let Some(foot) = &mut self.foot {
            foot.live(words::PAUSED);
            self.drawn = Some(Instant::now());
        }
    }

    /// Wipes the line, so that other text can stand in its place.
    pub fn clear(&mut self) {
        if self.foot.is_some() {
            return;
        }
        let Some(terminal) = &mut self.terminal else { return };
        if self.drawn.take().is_some() {
            if self.with_typing {
                let _ = queue!(terminal, Clear(ClearType::CurrentLine), MoveUp(1));
            }
            let _ = queue!(terminal, MoveToColumn(0), Clear(ClearType::CurrentLine));
            let _ = terminal.flush();
        }
    }
}

/// The line for a terminal of `width` columns.
fn line(listening: &Listening, target: Option<Note>, a4: A4, width: usize) -> String {
    let now = listening.now;
    let level = match now.level_dbfs.filter(|dbfs| *dbfs > LEAST_DBFS) {
        Some(dbfs) => format!("{:>5} dB", number(dbfs, 0)),
        None => format!("{:>8}", words::SILENT),
    };
    let sound = now.hz.and_then(Hertz::new).filter(|_| now.sounding);
    let pitch = sound.map_or_else(String::new, |hz| pitch(hz, target, a4));
    if width < NARROW {
        let pitch = pitch.split(" (").next().unwrap_or_default();
        return format!("{level}  {pitch:<8} {}", words::state(listening, 0));
    }
    let is_wide = width >= WIDE;
    let told = format!("{pitch:<23}  {}", words::state(listening, if is_wide { 2 } else { 1 }));
    if !is_wide {
        return format!("{level}  {told}");
    }
    let word =
        now.level_dbfs.filter(|_| now.sounding).map_or("", |dbfs| words::loud(how_loud(dbfs)));
    format!("{} {word:<5} {level}  {told}", bar(now.level_dbfs))
}

fn bar(level_dbfs: Option<f64>) -> String {
    let (low, high) = BAR_DBFS;
    let share = level_dbfs.map_or(0.0, |dbfs| (dbfs - low) / (high - low)).clamp(0.0, 1.0);
    let full = (share * BAR_CELLS as f64).round() as usize;
    format!("{}{}", "█".repeat(full), "░".repeat(BAR_CELLS - full))
}

/// `C5 −38`, and against the target where there is one and it is another note.
fn pitch(hz: Hertz, target: Option<Note>, a4: A4) -> String {
    let (note, above) = Note::nearest(hz, a4);
    let own = format!("{} {}", note.named_like(target), signed(above.0, 0));
    match target {
        Some(target) => {
            let from = cents_from_target(hz, target.frequency(a4)).0;
            let goal = target.to_string();
            let goal = goal.trim_end_matches(|c: char| c.is_ascii_digit() || c == '-');
            format!("{own} ({} from {goal})", signed(from, 0))
        }
        None => own,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::Now;

    #[test]
    fn the_line_tells_level_pitch_and_state() {
        let a4 = A4::default();
        let target = Profile::default().target;
        let silent = Listening::default();
        let mut told = vec![line(&silent, target, a4, 80)];
        let muted = Listening { silent: true, muted: true, ..silent };
        told.push(line(&muted, target, a4, 80));
        // 511.89 Hz is C5 (523.25 Hz) 38 cents flat.
        let now = Now {
            level_dbfs: Some(-20.4),
            hz: Some(523.2511 * (-38.0_f64 / 1200.0).exp2()),
            sounding: true,
            armed: true,
            floor_dbfs: Some(-70.0),
        };
        let sounding = Listening { now, take: Some(2), crows: 1, ..Listening::default() };
        told.push(line(&sounding, target, a4, 80));
        assert!(told[2].contains(" C5 −38 (−38 "), "{}", told[2]);
        // 440 Hz and a flat as the target: one way of naming.
        let flat = Listening { now: Now { hz: Some(466.0), ..now }, ..sounding };
        told.push(line(&flat, "Bb4".parse().ok(), a4, 60));
        assert!(told[3].contains(" Bb4 −1 (−1 "), "{}", told[3]);
        // The longest there is, in the columns it may take: one is kept free for the cursor.
        let longest = Listening { take: Some(99), crows: 99, closes_in_s: Some(4.0), ..flat };
        for (width, target) in [(80, "Ab5"), (60, "Ab5"), (40, "Ab5")] {
            let columns = line(&longest, target.parse().ok(), a4, width).chars().count();
            assert!(columns < width, "{columns}");
        }
        let quiet =
            Listening { now: Now { sounding: false, ..now }, closes_in_s: Some(2.2), ..sounding };
        told.push(line(&quiet, None, a4, 80));
        crate::golden::held("../../src/goldens", "live-line", &told.join("\n"));
    }
}
