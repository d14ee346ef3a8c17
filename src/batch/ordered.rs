//! Work on several threads whose results come back in the order of its inputs.

use std::collections::BTreeMap;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError, mpsc};
use std::thread;

/// How far the fastest thread may run ahead of the result that is due next. Bounds what waits in
/// memory; wide enough that a recording of an hour does not hold up the other threads at once.
const AHEAD: usize = 1024;

struct Queue<I> {
    inputs: I,
    taken: usize,
    done: usize,
    closed: bool,
}

/// Calls `work` on every input, on up to `jobs` threads (on as many as the system gives, or on the
/// calling one), and `deliver` on every result, on the calling
/// thread and in the order of the inputs. At most 1 024 results wait for one that is due before
/// them. An error of `deliver` ends it; inputs not yet begun are left.
pub fn in_order<T, R, E>(
    inputs: impl Iterator<Item = T> + Send,
    jobs: usize,
    work: impl Fn(T) -> R + Sync,
    mut deliver: impl FnMut(R) -> Result<(), E>,
) -> Result<(), E>
where
    R: Send,
{
    let queue = Mutex::new(Queue { inputs, taken: 0, done: 0, closed: false });
    let room = Condvar::new();
    let (sender, results) = mpsc::channel();
    let mut waiting = BTreeMap::new();
    let mut due = 0;
    let mut arrived = |index, result| {
        waiting.insert(index, result);
        while let Some(result) = waiting.remove(&due) {
            due += 1;
            let delivered = deliver(result);
            let mut queue = lock(&queue);
            queue.done = due;
            queue.closed |= delivered.is_err();
            drop(queue);
            room.notify_all();
            delivered?;
        }
        Ok(())
    };
    thread::scope(|scope| {
        let mut threads = 0;
        for _ in 0..jobs.max(1) {
            let (queue, room, work, sender) = (&queue, &room, &work, sender.clone());
            let worker = move || {
                while let Some((index, input)) = next(queue, room) {
                    if sender.send((index, work(input))).is_err() {
                        return;
                    }
                }
            };
            // A system that gives no more threads gives the work to those there are.
            if thread::Builder::new().spawn_scoped(scope, worker).is_err() {
                break;
            }
            threads += 1;
        }
        drop(sender);
        if threads == 0 {
            while let Some((index, input)) = next(&queue, &room) {
                arrived(index, work(input))?;
            }
        }
        results.into_iter().try_for_each(|(index, result)| arrived(index, result))
    })
}

fn next<T>(queue: &Mutex<Queue<impl Iterator<Item = T>>>, room: &Condvar) -> Option<(usize, T)> {
    let mut queue = lock(queue);
    while queue.taken >= queue.done + AHEAD && !queue.closed {
        queue = room.wait(queue).unwrap_or_else(PoisonError::into_inner);
    }
    if queue.closed {
        return None;
    }
    let input = queue.inputs.next()?;
    let index = queue.taken;
    queue.taken += 1;
    Some((index, input))
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::convert::Infallible;
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::time::Duration;

    #[test]
    fn results_come_in_the_order_of_the_inputs_however_long_each_takes() {
        let mut seen = Vec::new();
        let done: Result<(), Infallible> = in_order(
            0..200u64,
            8,
            |n| {
                thread::sleep(Duration::from_micros(n * 7919 % 500));
                n
            },
            |n| {
                seen.push(n);
                Ok(())
            },
        );
        assert!(done.is_ok());
        assert_eq!(seen, (0..200).collect::<Vec<_>>());
    }

    #[test]
    fn no_thread_runs_far_ahead_of_a_slow_one() {
        let (most, due) = (AtomicUsize::new(0), AtomicUsize::new(0));
        let done: Result<(), Infallible> = in_order(
            0..5 * AHEAD,
            3,
            |n| {
                if n == 0 {
                    thread::sleep(Duration::from_millis(200));
                }
                most.fetch_max(n - due.load(Ordering::SeqCst).min(n), Ordering::SeqCst);
            },
            |()| {
                due.fetch_add(1, Ordering::SeqCst);
                Ok(())
            },
        );
        assert!(done.is_ok());
        let most = most.load(Ordering::SeqCst);
        assert!((AHEAD / 2..=AHEAD).contains(&most), "{most}");
    }

    #[test]
    fn a_failed_delivery_ends_the_work() {
        let begun = AtomicUsize::new(0);
        let done = in_order(
            0..1_000_000,
            4,
            |_| begun.fetch_add(1, Ordering::SeqCst),
            |_| Err("the disk is full"),
        );
        assert_eq!(done, Err("the disk is full"));
        assert!(begun.load(Ordering::SeqCst) < 1_000_000);
    }
}
