//! The page's engine: one thread that hears the microphone (or a practice take), reads crows as
//! `listen` does, keeps them on the card of the reed on the bench, and does what is said. What there is
//! to show leaves as [`Live`] some ten times a second and as [`State`] whenever it changes.

mod entries;
mod heard;
mod refresh;
mod work;

use std::sync::Arc;
use std::sync::mpsc::{SyncSender, TrySendError, sync_channel};
use std::thread::JoinHandle;

use tokio::sync::{oneshot, watch};

use super::state::{Live, State};
use crate::advice::{Advice, Where};
use crate::log::Log;
use crate::reed::Cut;
pub use work::{Order, Reply, Settings};
use work::{Ordered, Work};

/// Orders that may wait; what comes on top is refused.
const MOST_WAITING: usize = 32;

/// Why an order was not even heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Busy {
    /// Too many wait already.
    Full,
    /// The engine has ended.
    Ended,
}

/// The engine, running. Dropping it ends the take that is going on and keeps it.
#[derive(Debug)]
pub struct Engine {
    orders: Option<SyncSender<Ordered>>,
    live: watch::Receiver<Live>,
    state: watch::Receiver<Arc<State>>,
    thread: Option<JoinHandle<()>>,
}

impl Engine {
    /// Starts it on `log`.
    ///
    /// Errors: the reed named is not there, or the log cannot be read.
    pub fn start(log: Log, settings: Settings) -> anyhow::Result<Self> {
        let label = match &settings.reed {
            Some(label) => Some(log.reed(label)?.card.label),
            None => log.last_worked_on()?,
        };
        let (live, live_seen) = watch::channel(Live::default());
        let (orders, received) = sync_channel(MOST_WAITING);
        let mut work = Work::new(log, settings, label, live)?;
        let (state, state_seen) = watch::channel(Arc::new(work.state.clone()));
        // On a thread of its own: sound streams stay where they were opened, and disks wait.
        let thread = std::thread::Builder::new()
            .name("bench".into())
            .spawn(move || work.run(&received, &state))?;
        Ok(Self { orders: Some(orders), live: live_seen, state: state_seen, thread: Some(thread) })
    }

    /// What sounds, as it changes.
    pub fn live(&self) -> watch::Receiver<Live> {
        self.live.clone()
    }

    /// Everything else there is to show, as it changes.
    pub fn state(&self) -> watch::Receiver<Arc<State>> {
        self.state.clone()
    }

    /// Asks for something; the answer comes once it is done and on the disk.
    pub fn ask(&self, order: Order) -> Result<oneshot::Receiver<Reply>, Busy> {
        let (answer, answered) = oneshot::channel();
        let orders = self.orders.as_ref().ok_or(Busy::Ended)?;
        match orders.try_send((order, answer)) {
            Ok(()) => Ok(answered),
            Err(TrySendError::Full(_)) => Err(Busy::Full),
            Err(TrySendError::Disconnected(_)) => Err(Busy::Ended),
        }
    }
}

impl Drop for Engine {
    fn drop(&mut self) {
        self.orders = None;
        if let Some(thread) = self.thread.take() {
            // A panic there has been told already.
            let _ = thread.join();
        }
    }
}

/// Whether a cut is what the advice proposes.
pub fn is_advised(cut: Cut, advice: &Advice) -> bool {
    match advice.r#where {
        Where::At(place) => Cut::at(advice.next, Some(place)) == Some(cut),
        _ => Cut::at(advice.next, None) == Some(cut),
    }
}
