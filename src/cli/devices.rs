//! `reedcrow devices`.

#![allow(clippy::print_stderr, reason = "what the maker is asked to do, beside the output")]

use std::io;
use std::process::ExitCode;
use std::time::Duration;

use super::output::{self, say};
use crate::capture::{
    CaptureError, Fitness, Input, InputFormat, Matter, Microphone, default_input, find_input,
    inputs, room_fitness,
};

/// How long a check listens.
const CHECK_S: f64 = 2.0;

/// Options of the command.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Listen for two seconds and say whether level, noise and hum are fit for crowing
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
        print_list(&found)?;
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

fn print_list(found: &[Input]) -> io::Result<()> {
    for input in found {
        let mark = if input.is_default { " (default)" } else { "" };
        say!("{}{mark}", input.name);
        if input.description != input.name {
            say!("    {}", input.description);
        }
        match (input.trouble(), input.default_format()) {
            (Some(trouble), _) => say!("    does not open: {trouble}"),
            (None, Some(format)) => {
                say!(
                    "    records {} samples per second, {}, {}",
                    format.min_rate_hz,
                    channels_in_words(&[format.min_channels]),
                    format.format
                );
                say!("    offers  {}", offer(input.formats()));
            }
            (None, None) => {}
        }
    }
    Ok(())
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
    eprintln!("Listening to {} for {CHECK_S} seconds. Crow once, as loud as you will.", input.name);
    let fitness = listen_and_judge(&input)?;
    if args.json {
        let mut line = serde_json::to_value(&fitness)?;
        if let Some(fields) = line.as_object_mut() {
            fields.insert("schema".to_owned(), 1.into());
            fields.insert("device".to_owned(), input.name.clone().into());
        }
        say!("{line}");
    } else {
        print_fitness(&fitness)?;
    }
    if fitness.findings.is_empty() {
        return Ok(ExitCode::SUCCESS);
    }
    output::complain(&unfit(&input.name, &fitness.findings));
    Ok(ExitCode::from(2))
}

fn listen_and_judge(input: &Input) -> Result<Fitness, CaptureError> {
    let mut microphone = Microphone::open(input)?;
    let format = microphone.format();
    let wanted =
        (CHECK_S * f64::from(format.sample_rate_hz)) as usize * usize::from(format.channels);
    let mut samples = Vec::with_capacity(wanted);
    let mut lost_frames = 0;
    while samples.len() < wanted {
        std::thread::sleep(Duration::from_millis(20));
        lost_frames += microphone.read(&mut samples)?.lost_frames;
    }
    Ok(room_fitness(&samples, format, lost_frames))
}

fn print_fitness(fitness: &Fitness) -> io::Result<()> {
    let level = |level: Option<f64>| {
        level.map_or_else(|| "silent".to_owned(), |level| format!("{level:.0} dBFS"))
    };
    say!("Channel      {}", fitness.channel);
    say!("Room noise   {}", level(fitness.floor_dbfs));
    match fitness.hum_dbfs {
        Some(hum) => say!("Mains hum    {hum:.0} dBFS"),
        None => say!("Mains hum    none"),
    }
    say!("Loudest      {}", level(fitness.loudest_dbfs));
    say!("Peak         {:.0} % of full scale", 100.0 * fitness.peak);
    say!("");
    for &matter in &fitness.findings {
        say!("- {}", in_words(matter));
    }
    match (fitness.findings.is_empty(), fitness.trial_heard) {
        (true, true) => say!("Fit for crowing."),
        (true, false) => say!(
            "The room is fit for crowing. No crow was heard: run the check again and crow during it, \
             to check the level too."
        ),
        (false, _) => {}
    }
    Ok(())
}

/// The last line of a check that found something: what, and what to do.
fn unfit(device: &str, findings: &[Matter]) -> String {
    let found: Vec<&str> = findings.iter().map(|&matter| in_short(matter)).collect();
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

fn in_words(matter: Matter) -> &'static str {
    match matter {
        Matter::Muted => {
            "Nothing comes from this microphone. Unmute it, raise its level in the sound settings, \
             or pick another with --device."
        }
        Matter::Overload => {
            "The crow overloads the microphone. Lower its level in the sound settings, or move the \
             reed twice as far away."
        }
        Matter::Hot => {
            "The crow comes close to overload. Lower the level a little, or crow from further away."
        }
        Matter::Quiet => {
            "The crow is weak. Raise the level in the sound settings, or crow from a hand's breadth \
             to the side of the microphone."
        }
        Matter::NoisyRoom => {
            "The room is loud. Turn off fans and machines, close the window, turn off automatic \
             level control, or come closer to the microphone."
        }
        Matter::Hum => {
            "Mains hum. Move the cable away from lamps and chargers, or run the computer on its \
             battery."
        }
        Matter::LostSamples => "Samples were lost. Close programs that keep the computer busy.",
        Matter::LowRate => {
            "The sample rate is low: brightness and the 8 kHz band cannot be read. Choose 44100 or \
             48000 in the sound settings; headsets without a cable often cannot."
        }
    }
}
