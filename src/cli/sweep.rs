//! `sweep`: many players rehearse a case; what comes of it shows whether the case is balanced.

use super::{fail, say};
use crate::balance::{
    Kind, Outcome, Pace, Plan, Summary, dominated, idle, page, sweep as run, table, wilson,
};
use crate::records::library;
use crate::scenario::Loaded;
use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What `sweep` takes.
#[derive(clap::Args)]
#[command(args_conflicts_with_subcommands = true, subcommand_negates_reqs = true)]
pub struct SweepArgs {
    #[command(subcommand)]
    then: Option<Then>,
    /// A case file, or the name of a built-in case
    #[arg(required = true)]
    case: Option<String>,
    /// A kind of player; may be given several times. All kinds when left out
    #[arg(long, value_parser = kind, value_name = "KIND")]
    player: Vec<Kind>,
    /// Seeds for each player
    #[arg(long, default_value_t = 20, value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    runs: u64,
    /// Seeds for each single change of the model play
    #[arg(long, default_value_t = 2, value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    changed_runs: u64,
    /// Threads; as many as the machine has processors when left out. The result does not depend on it
    #[arg(long)]
    threads: Option<usize>,
    /// Time passes as at the desk, bit for bit; otherwise in longer leaps and steps, some times as fast
    #[arg(long)]
    fine: bool,
    /// Only part K of N parts, such as 1/4; `sweep merge` joins them
    #[arg(long, value_parser = shard, default_value = "1/1", value_name = "K/N")]
    shard: (u64, u64),
    /// Where the table is written; the page stands beside it
    #[arg(long, default_value = "sweep.csv")]
    out: PathBuf,
}

#[derive(clap::Subcommand)]
enum Then {
    /// Join the tables of all parts of a sweep
    Merge(MergeArgs),
}

#[derive(clap::Args)]
struct MergeArgs {
    /// The tables
    #[arg(required = true)]
    tables: Vec<PathBuf>,
    /// The case, where it is not a built-in one
    #[arg(long)]
    case: Option<String>,
    /// Where the table is written; the page stands beside it
    #[arg(long, default_value = "sweep.csv")]
    out: PathBuf,
}

fn kind(name: &str) -> Result<Kind, String> {
    let names = Kind::ALL.map(Kind::name).join(", ");
    Kind::named(name).ok_or(format!("there are {names}"))
}

fn shard(text: &str) -> Result<(u64, u64), String> {
    let parts =
        text.split_once('/').and_then(|(k, n)| Some((k.parse::<u64>().ok()?, n.parse::<u64>().ok()?)));
    parts
        .filter(|(k, n)| (1..=*n).contains(k))
        .ok_or("write the part and the number of parts, such as 2/4".into())
}

/// Runs it: 0, or 2 when it cannot be run or written.
pub fn sweep(args: &SweepArgs) -> u8 {
    let done = match (&args.then, &args.case) {
        (Some(Then::Merge(merge)), _) => join(merge),
        (None, Some(case)) => rehearse_all(args, case),
        (None, None) => Err("name a case".into()),
    };
    match done {
        Ok(()) => 0,
        Err(why) => fail(why),
    }
}

fn rehearse_all(args: &SweepArgs, name: &str) -> Result<(), String> {
    let case = library::case(name)?;
    let processors = || std::thread::available_parallelism().map_or(1, usize::from);
    let plan = Plan {
        kinds: if args.player.is_empty() { Kind::ALL.to_vec() } else { args.player.clone() },
        runs: args.runs,
        changed_runs: args.changed_runs,
        pace: if args.fine { Pace::Fine } else { Pace::Coarse },
        threads: args.threads.unwrap_or_else(processors).clamp(1, 256),
        shard: args.shard,
    };
    let all = plan.size(&case);
    let shown = std::io::stderr().is_terminal();
    let progress = |done: usize| {
        if shown {
            let _ = write!(std::io::stderr(), "\r{}", bar(done, all));
        }
    };
    #[expect(clippy::disallowed_methods, reason = "a command tells how long it took; no result reads it")]
    let began = std::time::Instant::now();
    let outcomes = run(&case, &plan, &progress)?;
    let took_s = began.elapsed().as_secs_f64();
    if shown {
        let _ = writeln!(std::io::stderr());
    }
    let part = (plan.shard.1 > 1).then_some(plan.shard);
    let own = table::Of::case(&case, plan.pace);
    write(&args.out, &table::write(&own, &outcomes))?;
    match part {
        Some((k, n)) => {
            say(format!("part {k} of {n}: {} rehearsals in {}", outcomes.len(), args.out.display()))
        }
        None => finish(&case, &own, &outcomes, &args.out)?,
    }
    say(format!("{all} rehearsals in {took_s:.1} s, {:.1} a second", all as f64 / took_s.max(1e-3)));
    Ok(())
}

fn bar(done: usize, all: usize) -> String {
    const WIDE: usize = 30;
    let full = done * WIDE / all.max(1);
    format!("[{}{}] {done} of {all}", "#".repeat(full), "-".repeat(WIDE - full))
}

/// The most that a table may hold, bytes.
const MAX_TABLE_BYTES: u64 = 1 << 30;

fn join(args: &MergeArgs) -> Result<(), String> {
    let mut tables = Vec::new();
    for path in &args.tables {
        let why = |e: &dyn std::fmt::Display| format!("{}: {e}", path.display());
        let size = std::fs::metadata(path).map_err(|e| why(&e))?.len();
        if size > MAX_TABLE_BYTES {
            return Err(why(&"this is too large to be the table of a sweep"));
        }
        let text = std::fs::read_to_string(path).map_err(|e| why(&e))?;
        tables.push(table::read(&text).map_err(|e| why(&e))?);
    }
    let (of, outcomes) = table::merge(tables)?;
    let case = library::case(args.case.as_deref().unwrap_or(&of.case))?;
    if ![Pace::Fine, Pace::Coarse].iter().any(|pace| table::Of::case(&case, *pace) == of) {
        return Err(format!(
            "the tables are of {} {}, digest {}, engine {}; the case at hand is another: give it with --case",
            of.case, of.version, of.digest, of.engine
        ));
    }
    write(&args.out, &table::write(&of, &outcomes))?;
    finish(&case, &of, &outcomes, &args.out)
}

/// The page, and in words what matters most.
fn finish(case: &Arc<Loaded>, of: &table::Of, outcomes: &[Outcome], out: &Path) -> Result<(), String> {
    let summary = Summary::of(&case.case, outcomes);
    let html = out.with_extension("html");
    write(&html, &page(&case.case, of, &summary))?;
    for p in &summary.players {
        let most: Vec<String> = p
            .endings
            .iter()
            .filter(|(_, n)| *n > 0)
            .map(|(id, n)| {
                let (low, high) = wilson(*n, p.n);
                let id = if id.is_empty() { "not ended" } else { id };
                format!(
                    "{id} {:.0} % ({:.0} to {:.0})",
                    100.0 * *n as f64 / p.n as f64,
                    100.0 * low,
                    100.0 * high
                )
            })
            .collect();
        say(format!("{:14} {:5} rehearsals: {}", p.kind.name(), p.n, most.join(", ")));
    }
    let list = |what: &str, some: Vec<String>| {
        if !some.is_empty() {
            say(format!("{what}: {}", some.join(", ")));
        }
    };
    list("endings that nobody reached", summary.never_reached.clone());
    let dull = summary.asks.iter().filter(|a| a.matters == Some(false) && !a.knowledge).map(|a| a.id.clone());
    list("questions that made no difference to any patient", dull.collect());
    let known = summary.asks.iter().filter(|a| a.knowledge).map(|a| a.id.clone());
    list("questions that are only judged, as the case says", known.collect());
    let matter = summary.asks.iter().filter(|a| a.matters == Some(true));
    list("options beside the model's that no patient noticed", matter.filter_map(idle).collect());
    list("dominated options", summary.asks.iter().filter_map(dominated).collect());
    say(format!("{} and {}", out.display(), html.display()));
    Ok(())
}

fn write(path: &Path, text: &str) -> Result<(), String> {
    std::fs::write(path, text).map_err(|e| format!("{}: {e}", path.display()))
}
