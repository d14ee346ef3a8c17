//! `reedcrow devices`.

use std::process::ExitCode;
use std::time::{Duration, Instant};

use super::log_file::LogFile;
use super::output::{self, say};
use crate::capture::{
    CaptureError, Check, Fitness, Input, InputFormat, Microphone, MicrophoneCheck, Refusal,
    default_input, find_input, inputs,
};
use crate::clock;
use crate::pitch::A4;
use crate::profile::Profile;
use crate::report::terminal::Style;
use crate::words::devices as words;

/// Options of the command.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Listen to three seconds of quiet, three crows and some quiet again, and say whether this
    /// microphone will do and what to change; kept with the takes recorded after it
    #[arg(long)]
    check: bool,
    /// The microphone to check or show: its name, or a part of it
    #[arg(long, value_name = "NAME")]
    device: Option<String>,
    /// One line of JSON
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    log: LogFile,
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
    Err(CaptureError::NoDefault(Refusal::NoneOpens).into())
}

fn json_of(input: &Input) -> serde_json::Value {
    serde_json::json!({
        "name": input.name,
        "description": input.description,
        "default": input.is_default,
        "records": input.default_format(),
        "formats": input.formats(),
        "trouble": input.trouble().map(words::trouble),
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
                let told = words::does_not_open(trouble);
                lines.extend(style.wrapped("    ", &told));
            }
            (None, Some(format)) => {
                let channels = words::channels(format.min_channels, format.min_channels);
                let rate = format.min_rate_hz.to_string();
                let records = words::sound_format(&rate, &channels, &format.format);
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
    let rates = words::from_to(low, high);
    let channels: Vec<u16> =
        formats.iter().flat_map(|format| [format.min_channels, format.max_channels]).collect();
    let mut forms: Vec<&str> = Vec::new();
    for format in formats {
        if !forms.contains(&format.format.as_str()) {
            forms.push(&format.format);
        }
    }
    let low = channels.iter().min().copied().unwrap_or(0);
    let high = channels.iter().max().copied().unwrap_or(0);
    words::sound_format(&rates, &words::channels(low, high), &forms.join(" "))
}

fn check(args: &Args) -> anyhow::Result<ExitCode> {
    let input = match &args.device {
        Some(name) => find_input(name)?,
        None => default_input()?,
    };
    let fitness = listen_and_judge(&input)?;
    let checked = fitness.verdict(&input.name, clock::today().unwrap_or_default());
    // A log that cannot be written spoils no check.
    if let Err(error) = args.log.open().and_then(|mut log| Ok(log.keep_microphone(&checked)?)) {
        output::complain(&words::not_kept(&error.to_string()));
    }
    if args.json {
        let mut line = serde_json::to_value(&fitness)?;
        if let Some(fields) = line.as_object_mut() {
            fields.insert("schema".to_owned(), 1.into());
            fields.insert("device".to_owned(), input.name.clone().into());
            fields.insert("fit".to_owned(), fitness.is_fit().into());
        }
        say!("{line}");
    } else {
        output::print(&in_lines(&fitness, &output::style()))?;
    }
    if fitness.is_fit() {
        return Ok(ExitCode::SUCCESS);
    }
    output::complain(&words::unfit(&input.name, &fitness));
    Ok(ExitCode::from(2))
}

/// The room, then the crows, then the room again, as it says what is wanted.
fn listen_and_judge(input: &Input) -> Result<Fitness, CaptureError> {
    let mut microphone = Microphone::open(input)?;
    let mut check = MicrophoneCheck::begin(microphone.format(), &Profile::default(), A4::default());
    let began = Instant::now();
    let mut samples = Vec::new();
    let mut told = None;
    output::tell(&words::listening_to(&input.name));
    loop {
        std::thread::sleep(Duration::from_millis(20));
        samples.clear();
        let piece = microphone.read(&mut samples)?;
        let stage = check.push(&samples, piece.lost_frames, began.elapsed().as_secs_f64());
        if let Check::Done(fitness) = stage {
            return Ok(*fitness);
        }
        if told.as_ref() != Some(&stage) {
            output::tell(&words::wanted(&stage));
            told = Some(stage);
        }
    }
}

/// What was measured, each beside what would be fit, and what to change.
fn in_lines(fitness: &Fitness, style: &Style) -> String {
    let mut lines: Vec<String> = words::found(fitness)
        .iter()
        .flat_map(|(name, value)| style.wrapped(&format!("{name:<12} "), value))
        .collect();
    lines.push(String::new());
    for &matter in &fitness.findings {
        lines.extend(style.wrapped("- ", &words::matter(matter)));
    }
    lines.extend(style.wrapped("", words::verdict(fitness)));
    style.letters(lines.join("\n") + "\n")
}
