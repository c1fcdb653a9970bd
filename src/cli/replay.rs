//! `replay` and `fork`: a log played again, and left at another turning.

use super::{fail, say};
use crate::debrief::fork;
use crate::records::{Keeper, keeper::read_log};
use crate::scenario::quantity::Span;
use crate::session::event::{Giver, Tick};
use crate::session::golden::Golden;
use crate::session::log::{self, Line};
use crate::session::replay::{self, Verdict};
use std::path::PathBuf;

/// What `replay` takes.
#[derive(clap::Args)]
pub struct ReplayArgs {
    /// The log
    log: PathBuf,
}

/// What `fork` takes.
#[derive(clap::Args)]
pub struct ForkArgs {
    /// The log to leave
    log: PathBuf,
    /// When, such as "12 min 30 s"
    #[arg(long, requires = "play", required_unless_present = "instead")]
    at: Option<String>,
    /// The play to go on with: one of the case's, or a file
    #[arg(long, requires = "at")]
    play: Option<String>,
    /// Another answer to a question that was decided, and then everything as it was ordered
    #[arg(long, value_name = "QUESTION=OPTION", conflicts_with = "at")]
    instead: Option<String>,
    /// Where the new log is written
    #[arg(long = "log", value_name = "FILE")]
    out: PathBuf,
}

/// 0 when the log is sound and every line came out again, 1 with the first difference, 2 when it cannot be played.
pub fn replay(args: &ReplayArgs) -> u8 {
    let lines = match lines(&args.log) {
        Ok(lines) => lines,
        Err(why) => return why,
    };
    if let Some(Line::Head(head)) = lines.first()
        && head.engine != env!("CARGO_PKG_VERSION")
    {
        say(format!(
            "recorded by engine {}, played again by {}: a difference may be the engine's",
            head.engine,
            env!("CARGO_PKG_VERSION")
        ));
    }
    match replay::verify(&lines) {
        Err(why) => fail(why),
        Ok((session, Verdict::Exact)) => {
            say(format!(
                "exact: {} lines, {} patient time, {}",
                lines.len(),
                session.now(),
                Golden::of(&session)
            ));
            0
        }
        Ok((_, Verdict::Differs { line, recorded, now })) => {
            say(format!(
                "differs first at line {line}\n  recorded: {}\n  now:      {}",
                cut(&recorded),
                cut(&now)
            ));
            1
        }
    }
}

/// 0 when the new session was written.
pub fn fork(args: &ForkArgs) -> u8 {
    let lines = match lines(&args.log) {
        Ok(lines) => lines,
        Err(why) => return why,
    };
    match (&args.instead, &args.at, &args.play) {
        (Some(answer), ..) => instead(args, &lines, answer),
        (None, Some(at), Some(play)) => by_play(args, &lines, at, play),
        _ => fail("fork needs --at with --play, or --instead"),
    }
}

/// Goes on with a play from a moment.
fn by_play(args: &ForkArgs, lines: &[Line], at: &str, play: &str) -> u8 {
    let at = match Span::parse(at) {
        Ok(span) => Tick::from_ms(span.ms),
        Err(why) => return fail(format!("--at: {why}")),
    };
    let mut session = match replay::rebuild_until(lines, Some(at)) {
        Ok(session) => session,
        Err(why) => return fail(why),
    };
    let mut player = match super::rehearse::find_player(session.case(), play) {
        Ok(player) => player,
        Err(why) => return fail(why),
    };
    player.enter_at(session.now());
    session.mark_fork(lines, at);
    let mut keeper = match Keeper::keep(session, Some(&args.out)) {
        Ok(keeper) => keeper,
        Err(why) => return fail(why),
    };
    let until = at.after(Tick::from_ms(player.play().until.ms).0);
    while keeper.session().ended().is_none() && keeper.session().now() < until && !player.finished()
        || !keeper.session().hands_idle()
    {
        for order in player.poll(keeper.session()) {
            if let Err(why) = keeper.order(Giver::Trainee, order) {
                return fail(why);
            }
        }
        if let Err(why) = keeper.advance(1) {
            return fail(why);
        }
    }
    finish(keeper, at, args)
}

/// Answers one question otherwise; the trainee's own later orders follow.
fn instead(args: &ForkArgs, lines: &[Line], answer: &str) -> u8 {
    let Some((ask, option)) = answer.split_once('=') else {
        return fail("--instead: write QUESTION=OPTION, such as pressure=low");
    };
    let turnings = match fork::turnings(lines) {
        Ok(turnings) => turnings,
        Err(why) => return fail(why),
    };
    let Some(turning) = turnings.iter().find(|t| t.ask == ask) else {
        let asked: Vec<&str> = turnings.iter().map(|t| t.ask.as_str()).collect();
        return fail(format!(
            "\"{ask}\" was not decided in this session; decided were: {}",
            asked.join(", ")
        ));
    };
    let options = turning.options();
    if !options.iter().any(|o| o == option) {
        return fail(format!("\"{ask}\" has no option \"{option}\"; it has: {}", options.join(", ")));
    }
    let mut session = turning.played(option);
    session.mark_fork(lines, turning.at);
    match Keeper::keep(session, Some(&args.out)) {
        Ok(keeper) => finish(keeper, turning.at, args),
        Err(why) => fail(why),
    }
}

fn finish(keeper: Keeper, at: Tick, args: &ForkArgs) -> u8 {
    match keeper.close() {
        Err(why) => fail(why),
        Ok(session) => {
            let ending = session.ended().map_or("no ending yet", |e| e.title.as_str());
            say(format!(
                "forked at {at}: {} patient time, {ending}; log in {}",
                session.now(),
                args.out.display()
            ));
            0
        }
    }
}

/// A log's lines, or the exit code after saying why not: 1 when it was altered, 2 when it cannot be read.
pub(super) fn lines(path: &std::path::Path) -> Result<Vec<Line>, u8> {
    let bytes = read_log(path).map_err(fail)?;
    match log::read(&bytes) {
        Ok(read) => {
            if read.torn {
                say(format!(
                    "{}: the last line is torn and was left out ({} bytes); what was acknowledged before is whole",
                    path.display(),
                    bytes.len() - read.sound_bytes
                ));
            }
            Ok(read.lines)
        }
        Err(fault) => {
            fail(format!("{}: {fault}", path.display()));
            Err(if matches!(fault, log::LogFault::Altered { .. }) { 1 } else { 2 })
        }
    }
}

fn cut(text: &str) -> String {
    text.chars().take(300).collect()
}
