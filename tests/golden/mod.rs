//! The same orders, seed and case give the same session, bit for bit: in this build, in release, and compiled to wasm32.
//!
//! `plays.txt` holds one line for each play of each built-in case: bytes of the events, their digest, number of sampled values,
//! their digest. After a wanted change: `UPDATE_GOLDEN=1 cargo test --no-default-features golden`.

use overwire::records::library;
use overwire::session::golden::Golden;
use overwire::session::log::Mode;
use overwire::session::player::Player;
use overwire::session::{Session, run_player};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::{Arc, Mutex};

/// Every play of every built-in case.
fn plays() -> Vec<(String, String)> {
    let plays_of = |id: &str| {
        let case = library::case(id).unwrap();
        case.case.plays.iter().map(|p| (id.to_string(), p.name.clone())).collect::<Vec<_>>()
    };
    library::BUILT_IN.iter().flat_map(|(id, _)| plays_of(id)).collect()
}

/// Runs `work` over all plays on two threads; lines in the plays' order. Each play is a world of its own.
fn lines(work: impl Fn(&str, &str) -> String + Sync) -> String {
    let todo = plays();
    let next = Mutex::new(0);
    let done = Mutex::new(vec![String::new(); todo.len()]);
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                loop {
                    let i = {
                        let mut next = next.lock().unwrap();
                        *next += 1;
                        *next - 1
                    };
                    let Some((case, play)) = todo.get(i) else { break };
                    done.lock().unwrap()[i] = format!("{case} {play} {}\n", work(case, play));
                }
            });
        }
    });
    done.into_inner().unwrap().concat()
}

fn kept() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden/plays.txt")
}

fn compare(what: &str, got: &str) {
    let want = std::fs::read_to_string(kept()).unwrap_or_default();
    for (w, g) in want.lines().zip(got.lines()) {
        assert_eq!(g, w, "{what} differs from tests/golden/plays.txt");
    }
    assert_eq!(got.lines().count(), want.lines().count(), "{what}: another number of plays");
}

#[test]
fn in_this_build() {
    let got = lines(|case, play| {
        let case = library::case(case).unwrap();
        let mut player = Player::named(&case, play).unwrap();
        let mut session = Session::new(Arc::clone(&case), 1, Mode::Free);
        run_player(&mut session, &mut player);
        // A play of a case states what must come out; it must.
        assert_eq!(session.unmet(player.play()), Vec::<String>::new(), "{play}");
        Golden::of(&session).to_string()
    });
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        std::fs::write(kept(), &got).unwrap();
    }
    compare("this build", &got);
}

/// A built program, or why there is none to compare with.
fn built(parts: &str, how: &str) -> Option<PathBuf> {
    let target = std::env::var_os("CARGO_TARGET_DIR")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("target"), PathBuf::from);
    let path = target.join(parts);
    if path.exists() {
        return Some(path);
    }
    assert!(std::env::var_os("OVERWIRE_REQUIRE_ALL").is_none(), "{} is missing: {how}", path.display());
    eprintln!("skipped: {} is missing. To enable: {how}", path.display());
    None
}

fn printed(command: &mut Command) -> String {
    let out = command.output().unwrap();
    assert!(out.status.success(), "{command:?}: {}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap().trim().into()
}

#[test]
fn in_release() {
    let how = "cargo build --release --no-default-features";
    let Some(program) = built("release/overwire", how) else { return };
    let got = lines(|case, play| {
        printed(Command::new(&program).args(["rehearse", case, "--play", play, "--golden"]))
    });
    compare("the release build", &got);
}

#[test]
fn in_wasm() {
    let how = "rustup target add wasm32-wasip1, then cargo build --release --no-default-features --target wasm32-wasip1";
    let Some(program) = built("wasm32-wasip1/release/overwire.wasm", how) else { return };
    if Command::new("node").arg("--version").output().is_err() {
        assert!(std::env::var_os("OVERWIRE_REQUIRE_ALL").is_none(), "node is missing: install nodejs");
        eprintln!("skipped: node is missing. To enable: install nodejs");
        return;
    }
    let runner = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden/wasi.mjs");
    let got = lines(|case, play| {
        let mut node = Command::new("node");
        node.arg("--no-warnings").arg(&runner).arg(&program);
        let out = node.args(["rehearse", case, "--play", play, "--golden"]).output().unwrap();
        // Node 20 can fall over while it takes a finished program down, after its line stands whole: the line is the check.
        let line = String::from_utf8(out.stdout).unwrap().trim().to_string();
        assert!(!line.is_empty(), "{play}: {} {}", out.status, String::from_utf8_lossy(&out.stderr));
        line
    });
    compare("the wasm build", &got);
}

/// The command's promise to scripts (common practice, no source): not 0 when something is not as stated, the fingerprint alone on
/// one stream, and on the other which statement it was.
#[test]
fn a_play_that_is_not_as_stated_is_told_with_its_fingerprint() {
    let path = std::env::temp_dir().join(format!("overwire-golden-{}.ron", std::process::id()));
    let rehearse = |expect: &str, ending: &str| {
        let play = format!(
            r#"(name: "stray", about: "Nothing is done.", until: "10 s", expect: ["{expect}"], ending: {ending})"#
        );
        std::fs::write(&path, play).unwrap();
        let mut command = Command::new(env!("CARGO_BIN_EXE_overwire"));
        command.args(["rehearse", "pelvic_bleed", "--golden", "--play"]).arg(&path).output().unwrap()
    };
    let wrong = rehearse("lost > 90000 mL", r#"Some("whole")"#);
    let right = rehearse("alive == 1", "None");
    std::fs::remove_file(&path).unwrap();
    let told = String::from_utf8(wrong.stderr).unwrap();
    assert_eq!((wrong.status.code(), right.status.code()), (Some(1), Some(0)), "{told}");
    assert!(told.contains("lost > 90000 mL") && told.contains("ending whole"), "{told}");
    assert!(right.stderr.is_empty());
    assert_eq!(wrong.stdout, right.stdout, "the same patient");
    assert_eq!(String::from_utf8(wrong.stdout).unwrap().lines().count(), 1);
}
