//! What is said of microphones.

use std::borrow::Cow;

use crate::capture::Matter;
use crate::system::System;
use crate::words::system::silent_by_privacy;

/// What makes a microphone or its room unfit, and what to change.
pub fn matter(matter: Matter) -> Cow<'static, str> {
    Cow::Borrowed(match matter {
        Matter::Muted => {
            let muted = "Nothing comes from this microphone. Unmute it, raise its level in the sound \
                         settings, or pick another with --device.";
            return match silent_by_privacy(System::HERE) {
                Some(forbidden) => Cow::Owned(format!("{muted} {forbidden}")),
                None => Cow::Borrowed(muted),
            };
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
    })
}
