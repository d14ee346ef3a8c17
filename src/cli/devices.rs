//! `reedcrow devices`.

use std::process::ExitCode;
use std::time::Duration;

use super::output::{self, say};
use crate::capture::{
    CaptureError, Fitness, HOT_DBFS, Input, InputFormat, Matter, Microphone, NOISY_DBFS,
    default_input, find_input, inputs, room_fitness,
};
use crate::reading::{HUM_DBFS, QUIET_DBFS};
use crate::report::format::number;
use crate::report::terminal::Style;
use crate::words::devices as words;

/// How long a check listens to the room.
const QUIET_S: f64 = 2.0;

/// How long it then waits for a crow.
const TRIAL_S: f64 = 4.0;

/// Options of the command.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Listen to two seconds of quiet, then to a crow, and say whether noise, hum and level are fit
    #[arg(long)]
    check: bool,
    /// The microphone to check or show: its name, or a part of it
    #[arg(long, value_name = "NAME")]
    device: Option<String>,
    /// One line of JSON
    #[arg(long)]
    json: bool,
}

/// Runs it.
pub fn run(args: Args) -> anyhow::Result<ExitCode> {
    if args.check {
        return check(&args);
    }
    let found = match &args.device {
        Some(name) => vec![find_input(name)?],
        None => inputs()?,
    };
    if args.json {
        let list: Vec<_> = found.iter().map(json_of).collect();
        say!("{}", serde_json::json!({ "schema": 1, "devices": list }));
    } else {
        output::print(&list(&found, &output::style()))?;
    }
    if found.iter().any(|input| input.trouble().is_none()) {
        return Ok(ExitCode::SUCCESS);
    }
    Err(CaptureError::NoDefault("no input opens".to_owned()).into())
}

fn json_of(input: &Input) -> serde_json::Value {
    serde_json::json!({
        "name": input.name,
        "description": input.description,
        "default": input.is_default,
        "records": input.default_format(),
        "formats": input.formats(),
        "trouble": input.trouble(),
    })
}

fn list(found: &[Input], style: &Style) -> String {
    let mut lines = Vec::new();
    for input in found {
        let mark = if input.is_default { " (default)" } else { "" };
        lines.push(format!("{}{mark}", input.name));
        if input.description != input.name {
            lines.extend(style.wrapped("    ", &input.description));
        }
        match (input.trouble(), input.default_format()) {
            (Some(trouble), _) => {
                lines.extend(style.wrapped("    ", &format!("does not open: {trouble}")));
            }
            (None, Some(format)) => {
                let records = format!(
                    "{} samples per second, {}, {}",
                    format.min_rate_hz,
                    channels_in_words(&[format.min_channels]),
                    format.format
                );
                lines.extend(style.wrapped("    records ", &records));
                lines.extend(style.wrapped("    offers  ", &offer(input.formats())));
            }
            (None, None) => {}
        }
    }
    style.letters(lines.join("\n") + "\n")
}

/// `8000 to 192000 samples per second, 1 to 32 channels, i16 i32 f32`.
fn offer(formats: &[InputFormat]) -> String {
    let low = formats.iter().map(|format| format.min_rate_hz).min().unwrap_or(0);
    let high = formats.iter().map(|format| format.max_rate_hz).max().unwrap_or(0);
    let rates = if low == high { low.to_string() } else { format!("{low} to {high}") };
    let channels: Vec<u16> =
        formats.iter().flat_map(|format| [format.min_channels, format.max_channels]).collect();
    let mut forms: Vec<&str> = Vec::new();
    for format in formats {
        if !forms.contains(&format.format.as_str()) {
            forms.push(&format.format);
        }
    }
    format!("{rates} samples per second, {}, {}", channels_in_words(&channels), forms.join(" "))
}

fn channels_in_words(channels: &[u16]) -> String {
    let low = channels.iter().min().copied().unwrap_or(0);
    let high = channels.iter().max().copied().unwrap_or(0);
    match (low, high) {
        (1, 1) => "1 channel".to_owned(),
        (low, high) if low == high => format!("{low} channels"),
        (low, high) => format!("{low} to {high} channels"),
    }
}

fn check(args: &Args) -> anyhow::Result<ExitCode> {
    let input = match &args.device {
        Some(name) => find_input(name)?,
        None => default_input()?,
    };
    let fitness = listen_and_judge(&input)?;
    if args.json {
        let mut line = serde_json::to_value(&fitness)?;
        if let Some(fields) = line.as_object_mut() {
            fields.insert("schema".to_owned(), 1.into());
            fields.insert("device".to_owned(), input.name.clone().into());
        }
        say!("{line}");
    } else {
        output::print(&in_lines(&fitness, &output::style()))?;
    }
    if fitness.findings.is_empty() {
        return Ok(ExitCode::SUCCESS);
    }
    output::complain(&unfit(&input.name, &fitness));
    Ok(ExitCode::from(2))
}

/// The room first, then the crow: what is heard of both at once cannot be told apart.
fn listen_and_judge(input: &Input) -> Result<Fitness, CaptureError> {
    let mut microphone = Microphone::open(input)?;
    let format = microphone.format();
    let mut lost_frames = 0;
    let mut record = |seconds: f64| -> Result<Vec<f32>, CaptureError> {
        let frames = (seconds * f64::from(format.sample_rate_hz)) as usize;
        let wanted = frames * usize::from(format.channels);
        let mut samples = Vec::with_capacity(wanted);
        while samples.len() < wanted {
            std::thread::sleep(Duration::from_millis(20));
            lost_frames += microphone.read(&mut samples)?.lost_frames;
        }
        Ok(samples)
    };
    output::tell(&format!("Listening to {}. {QUIET_S} seconds of quiet, please.", input.name));
    let quiet = record(QUIET_S)?;
    output::tell(&format!("Now crow once, as loud as you will: you have {TRIAL_S} seconds."));
    let trial = record(TRIAL_S)?;
    Ok(room_fitness(&quiet, &trial, format, lost_frames))
}

/// What was measured, each beside what would be fit, and what to change.
fn in_lines(fitness: &Fitness, style: &Style) -> String {
    let level = |level: Option<f64>| {
        level.map_or_else(
            || "silent".to_owned(),
            |level| format!("{} dB of full scale", number(level, 0)),
        )
    };
    let limit = |level: f64| number(level, 0);
    let crow = match fitness.trial_heard {
        true => format!(
            "{} in its loudest 50 ms (fit: {} to {})",
            level(fitness.loudest_dbfs),
            limit(QUIET_DBFS),
            limit(HOT_DBFS)
        ),
        false if fitness.air_heard => "air without a tone".to_owned(),
        false => "none heard".to_owned(),
    };
    let hum = fitness.hum_dbfs.map_or("none".to_owned(), |hum| level(Some(hum)));
    let overload = match fitness.findings.contains(&Matter::Overload) {
        true => "overloaded",
        false => "no overload",
    };
    let rows = [
        ("Channel", fitness.channel.to_string()),
        ("Room noise", format!("{} (fit: under {})", level(fitness.floor_dbfs), limit(NOISY_DBFS))),
        ("Mains hum", format!("{hum} (fit: under {})", limit(HUM_DBFS))),
        ("Crow", crow),
        ("Peak", format!("{} % of full scale, {overload}", number(100.0 * fitness.peak, 0))),
    ];
    let mut lines: Vec<String> = rows
        .iter()
        .flat_map(|(name, value)| style.wrapped(&format!("{name:<12} "), value))
        .collect();
    lines.push(String::new());
    for &matter in &fitness.findings {
        lines.extend(style.wrapped("- ", &words::matter(matter)));
    }
    let verdict = match (fitness.findings.is_empty(), fitness.trial_heard) {
        (true, true) => "Fit for crowing.",
        (true, false) if fitness.air_heard => {
            "The room is fit for crowing. Only air was heard: run the check again and blow until the \
             reed sounds, to check the level too."
        }
        (true, false) => {
            "The room is fit for crowing. No crow was heard: run the check again and crow when it \
             asks for it, to check the level too."
        }
        (false, _) => "",
    };
    lines.extend(style.wrapped("", verdict).into_iter().filter(|line| !line.is_empty()));
    style.letters(lines.join("\n") + "\n")
}

/// The last line of a check that found something: what, and what to do.
fn unfit(device: &str, fitness: &Fitness) -> String {
    let found: Vec<&str> = fitness.findings.iter().map(|&matter| in_short(matter)).collect();
    format!("{device} is not fit for crowing: {}; change that, then check again", found.join(", "))
}

fn in_short(matter: Matter) -> &'static str {
    match matter {
        Matter::Muted => "it is silent (muted?)",
        Matter::Overload => "the crow overloads it",
        Matter::Hot => "the crow comes close to overload",
        Matter::Quiet => "the crow is weak",
        Matter::NoisyRoom => "the room is loud",
        Matter::Hum => "mains hum",
        Matter::LostSamples => "samples were lost",
        Matter::LowRate => "its sample rate is low",
    }
}
