//! `rehearse`: a written play run through a case.

use super::{fail, say};
use crate::records::{Keeper, library};
use crate::scenario::Loaded;
use crate::scenario::case::Play;
use crate::scenario::signal::columns;
use crate::session::event::{EventKind, Giver, Tick};
use crate::session::golden::Golden;
use crate::session::log::Mode;
use crate::session::player::Player;
use crate::session::{Session, run_player};
use std::fmt::Write as _;
use std::io::Write as _;
use std::path::PathBuf;
use std::sync::Arc;

/// What `rehearse` takes.
#[derive(clap::Args)]
pub struct RehearseArgs {
    /// A built-in case's name or a case file
    case: String,
    /// A play of the case, or a file with one
    #[arg(long, default_value = "model")]
    play: String,
    /// Seed of all chance
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Write the session's log here
    #[arg(long)]
    log: Option<PathBuf>,
    /// Write the signals as CSV, one row a second
    #[arg(long)]
    trace: Option<PathBuf>,
    /// Print only the fingerprint of events and samples; what is not as stated is told beside it
    #[arg(long)]
    golden: bool,
    /// Tell everything that happens
    #[arg(long)]
    tell: bool,
}

/// Runs it: 0 when everything that the play expects came out, 1 when not, 2 when it could not be run.
pub fn rehearse(args: &RehearseArgs) -> u8 {
    let case = match library::case(&args.case) {
        Ok(case) => case,
        Err(why) => return fail(why),
    };
    let mut player = match find_player(&case, &args.play) {
        Ok(player) => player,
        Err(why) => return fail(why),
    };
    let mut keeper = match Keeper::start(Arc::clone(&case), args.seed, Mode::Free, args.log.as_deref()) {
        Ok(keeper) => keeper,
        Err(why) => return fail(why),
    };
    if let Err(why) = drive(&mut keeper, &mut player) {
        return fail(why);
    }
    let session = match keeper.close() {
        Ok(session) => session,
        Err(why) => return fail(why),
    };
    if let Some(path) = &args.trace
        && let Err(e) = std::fs::write(path, trace_csv(&session))
    {
        return fail(format!("{}: {e}", path.display()));
    }
    if args.golden {
        say(Golden::of(&session));
        // The fingerprint stands alone on its stream: other builds' are compared with it.
        let unmet = session.unmet(player.play());
        for line in &unmet {
            let _ = writeln!(std::io::stderr(), "not as stated: {line}");
        }
        return u8::from(!unmet.is_empty());
    }
    report(&session, &player, args.tell)
}

/// The case's play of that name, or a file's.
pub(super) fn find_player(case: &Loaded, name: &str) -> Result<Player, String> {
    if !name.contains(['/', '.', '\\']) {
        return Player::named(case, name);
    }
    let text = library::text(name)?;
    let play: Play = ron::Options::default()
        .with_default_extension(ron::extensions::Extensions::IMPLICIT_SOME)
        .from_str(&text)
        .map_err(|e| format!("{name}:{}: {}", e.span, e.code))?;
    Player::from_play(case, play)
}

/// Plays a play to its end, every order through the keeper.
fn drive(keeper: &mut Keeper, player: &mut Player) -> Result<(), String> {
    let until = Tick::from_ms(player.play().until.ms);
    while keeper.session().ended().is_none() && keeper.session().now() < until {
        if player.over(keeper.session()) {
            break;
        }
        for order in player.poll(keeper.session()) {
            // A refusal is part of the story; the play's expectations judge it.
            let _ = keeper.order(Giver::Trainee, order).map_err(|e| e.to_string())?;
        }
        keeper.advance(1).map_err(|e| e.to_string())?;
    }
    Ok(())
}

/// Runs a play without a log; for tests and the check of a case.
pub fn rehearsed(case: &Arc<Loaded>, play: &str, seed: u64) -> Result<Session, String> {
    let mut player = Player::named(case, play)?;
    let mut session = Session::new(Arc::clone(case), seed, Mode::Free);
    run_player(&mut session, &mut player);
    Ok(session)
}

/// The model play of a case with its debrief, where there is neither display nor terminal.
pub(super) fn model_with_debrief(name: &str) -> u8 {
    let case = match library::case(name) {
        Ok(case) => case,
        Err(why) => return fail(why),
    };
    let run = Player::named(&case, "model").map(|mut player| {
        let mut session = Session::new(Arc::clone(&case), 1, Mode::Free);
        run_player(&mut session, &mut player);
        (session, player)
    });
    match run {
        Err(why) => fail(why),
        Ok((session, player)) => {
            let code = report(&session, &player, false);
            match super::debrief::write_session(&session, std::path::Path::new("overwire-out"), name) {
                Ok(page) => {
                    say(format!("debrief: {}", page.display()));
                    code
                }
                Err(why) => fail(why),
            }
        }
    }
}

fn report(session: &Session, player: &Player, tell: bool) -> u8 {
    let play = player.play();
    if tell {
        for event in session.events() {
            if let Some(line) = session.tell(event) {
                say(format!("{}  {line}", event.at));
            }
        }
    }
    let ending = session.ended().map_or("none reached".into(), |e| format!("{} ({})", e.title, e.id));
    say(format!("{} · {} · {} · ending: {ending}", session.case().case.id, play.name, session.now()));
    let refused = session.events().iter().filter(|e| matches!(e.kind, EventKind::Refused { .. })).count();
    if refused > 0 {
        say(format!("{refused} orders were refused (see them with --tell)"));
    }
    for label in player.skipped() {
        say(format!("step \"{label}\" was passed over: what it waits for did not come in time"));
    }
    let failed = session.unmet(play);
    for line in &failed {
        say(format!("not as stated: {line}"));
    }
    if failed.is_empty() {
        say("everything that the play states came out");
    }
    u8::from(!failed.is_empty())
}

fn trace_csv(session: &Session) -> String {
    let mut out = String::from("time_s");
    for (name, unit) in columns(&session.case().vars).into_iter().skip(1) {
        let _ = if unit.is_empty() { write!(out, ",{name}") } else { write!(out, ",{name} [{unit}]") };
    }
    out.push('\n');
    for row in session.trace() {
        let _ = write!(out, "{}", row.at.seconds());
        for v in row.values.iter().skip(1) {
            let _ = write!(out, ",{v}");
        }
        out.push('\n');
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::library;
    use crate::session::log::Mode;

    #[test]
    fn every_value_of_a_trace_has_a_name() {
        let case = library::case("descending_rupture").unwrap();
        let mut session = Session::new(case, 1, Mode::Free);
        session.advance(30);
        let text = trace_csv(&session);
        let mut lines = text.lines().map(|l| l.split(',').count());
        let names = lines.next().unwrap();
        assert!(names > 100 && lines.clone().count() >= 3 && lines.all(|n| n == names));
    }
}
