//! Work that takes longer than a frame, done beside the window's own.

use std::io;
use std::sync::mpsc::{Receiver, channel};

/// Starts it on a thread of its own; what comes of it can be fetched from the receiver, and the window is woken then.
///
/// # Errors
/// When the system gives no thread.
pub fn aside<T: Send + 'static>(
    name: &str,
    ctx: &egui::Context,
    work: impl FnOnce() -> T + Send + 'static,
) -> io::Result<Receiver<T>> {
    let (send, receive) = channel();
    let ctx = ctx.clone();
    std::thread::Builder::new().name(name.into()).spawn(move || {
        // Nobody waits for it when what asked is gone meanwhile: a case that was left, a file that was saved again.
        let _ = send.send(work());
        ctx.request_repaint();
    })?;
    Ok(receive)
}
