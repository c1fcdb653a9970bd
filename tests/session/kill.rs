//! The power cord: the program is killed at random moments, and no acknowledged order is lost.

use overwire::math::Streams;
use overwire::scenario::Order;
use overwire::session::log::{Line, read};
use overwire::session::replay::{Verdict, verify};
use std::io::{BufRead, BufReader, Write};
use std::process::{Command, Stdio};
use std::time::Duration;

/// How often: a few times in everyday runs; OVERWIRE_KILLS says otherwise.
fn times() -> u32 {
    std::env::var("OVERWIRE_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(6)
}

#[test]
fn killed_at_random_moments_nothing_acknowledged_is_lost() {
    let program = std::env::var("OVERWIRE_PROGRAM").unwrap_or_else(|_| env!("CARGO_BIN_EXE_overwire").into());
    let folder = std::env::temp_dir().join(format!("overwire-kill-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let mut chance = Streams::new(7).named("kill");
    let mut acknowledged_in_all = 0;
    for round in 0..times() {
        let log = folder.join(format!("{round}.jsonl"));
        let mut child = Command::new(&program)
            .args(["play", "descending_rupture", "--text", "--log"])
            .arg(&log)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut orders = child.stdin.take().unwrap();
        let said = BufReader::new(child.stdout.take().unwrap());
        // Notes are orders with a number of their own; between them time passes and drugs are given.
        let writer = std::thread::spawn(move || {
            for n in 0.. {
                let text = format!("note number {n}.\nwait {} s\ngive fentanyl 25 ug\n", 1 + n % 3);
                if orders.write_all(text.as_bytes()).and_then(|()| orders.flush()).is_err() {
                    break;
                }
            }
        });
        let (tell, heard) = std::sync::mpsc::channel();
        let reader = std::thread::spawn(move || {
            for line in said.lines().map_while(Result::ok) {
                if let Some((_, n)) = line.split_once("Note: number ") {
                    let n: u32 = n.trim_end_matches('.').parse().unwrap();
                    if tell.send(n).is_err() {
                        break;
                    }
                }
            }
        });
        let first = heard.recv_timeout(Duration::from_secs(60)).expect("the program answers");
        assert_eq!(first, 0);
        std::thread::sleep(Duration::from_micros((chance.uniform() * 120_000.0) as u64));
        child.kill().unwrap();
        child.wait().unwrap();
        writer.join().unwrap();
        reader.join().unwrap();
        let acknowledged = heard.iter().last().unwrap_or(first);

        let read = read(&std::fs::read(&log).unwrap()).unwrap();
        let kept = read.lines.iter().filter_map(|l| match l {
            Line::Order { order: Order::Note { text }, .. } => Some(text.clone()),
            _ => None,
        });
        let kept: Vec<String> = kept.collect();
        for n in 0..=acknowledged {
            assert!(kept.contains(&format!("number {n}.")), "round {round}: note {n} is lost; kept {kept:?}");
        }
        acknowledged_in_all += acknowledged + 1;
        // What is there verifies, and play goes on from it.
        let (mut session, verdict) = verify(&read.lines).unwrap();
        assert_eq!(verdict, Verdict::Exact, "round {round}");
        let now = session.now();
        session.advance(20);
        assert_eq!(session.now(), now.after(20));
        let resumed = Command::new(&program).arg("resume").arg(&log).stdin(Stdio::null()).output().unwrap();
        assert!(resumed.status.success(), "{}", String::from_utf8_lossy(&resumed.stderr));
    }
    std::fs::remove_dir_all(&folder).unwrap();
    assert!(acknowledged_in_all > times(), "the program was killed in mid-play, not at its start");
}
