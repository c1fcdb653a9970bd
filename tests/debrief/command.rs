//! The command: what it writes, and what it answers when it cannot.

use super::report::session_saying;
use overwire::session::log::{Chain, Line};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// A folder of the test's own, gone with it.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("overwire-debrief-{name}-{}", std::process::id()));
        std::fs::create_dir_all(&path).unwrap();
        Self(path)
    }
    fn log(&self, name: &str, lines: &[Line]) -> PathBuf {
        let mut chain = Chain::default();
        let mut text = String::new();
        for line in lines {
            let (t, next) = chain.append(line).unwrap();
            text.push_str(&t);
            chain = next;
        }
        let path = self.0.join(name);
        std::fs::write(&path, text).unwrap();
        path
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // Left behind it would only be litter in the system's own folder for it.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn debrief(logs: &[&Path], out: &Path, more: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_overwire"))
        .arg("debrief")
        .args(logs)
        .arg("--out")
        .arg(out)
        .args(more)
        .output()
        .unwrap()
}

#[test]
fn an_old_log_is_written_as_it_was_recorded_and_not_forked() {
    let folder = Folder::new("old");
    let log = folder.log("old.jsonl", &session_saying("plain words").lines);
    let out = folder.0.join("out");
    let said = debrief(&[&log], &out, &[]);
    assert_eq!(said.status.code(), Some(0), "{}", String::from_utf8_lossy(&said.stderr));
    let page = std::fs::read_to_string(out.join("old.html")).unwrap();
    assert!(page.contains("Not computed again."));
    assert!(page.contains("Engine 0.0.1 recorded this session"));
    let json: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(out.join("old.json")).unwrap()).unwrap();
    assert_eq!(json["engine"], "0.0.1");
    assert!(json["not_computed_again"].as_str().unwrap().contains("0.0.1"));
    assert!(out.join("old.csv").exists());
    assert!(!out.join("old.part").exists(), "nothing half-written is left");

    let said = debrief(&[&log], &out, &["--forks"]);
    assert_eq!(said.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&said.stderr).contains("--forks needs a log"));
}

#[test]
fn two_logs_are_set_side_by_side_and_one_is_not() {
    let folder = Folder::new("two");
    let a = folder.log("a.jsonl", &session_saying("first").lines);
    let b = folder.log("b.jsonl", &session_saying("first").lines);
    let out = folder.0.join("out");
    assert_eq!(debrief(&[&a], &out, &["--compare"]).status.code(), Some(2));
    assert_eq!(debrief(&[&a, &b], &out, &["--compare"]).status.code(), Some(0));
    let page = std::fs::read_to_string(out.join("a-and-b.html")).unwrap();
    assert!(page.contains(overwire::debrief::TRAINING_ONLY));
    assert!(page.contains("1 of 1 questions were answered alike."));
}

/// A changed word breaks the chain: exit 1 and no page.
#[test]
fn an_altered_log_is_told_and_not_debriefed() {
    let folder = Folder::new("altered");
    let log = folder.log("log.jsonl", &session_saying("plain words").lines);
    let text =
        std::fs::read_to_string(&log).unwrap().replace("\"tier\":\"preferred\"", "\"tier\":\"defensible\"");
    std::fs::write(&log, text).unwrap();
    let out = folder.0.join("out");
    let said = debrief(&[&log], &out, &[]);
    assert_eq!(said.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&said.stderr).contains("was altered"));
    assert!(!out.join("log.html").exists());
}
