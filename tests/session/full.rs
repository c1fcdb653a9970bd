//! The disk is full in the middle of a case: it is said, and what the log holds is sound.

use std::io::Write;
use std::process::{Command, Stdio};

/// setrlimit(2): past RLIMIT_FSIZE a write fails with EFBIG where SIGXFSZ is ignored, as on a full disk it fails with ENOSPC. A
/// shell sets both (POSIX, `ulimit -f` in blocks of 512 bytes, `trap '' XFSZ`). The log's head is larger than the case's text; so
/// much again is some minutes of a session.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_said_and_the_log_stays_sound() {
    let home = std::env::temp_dir().join(format!("overwire-full-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&home);
    std::fs::create_dir_all(&home).unwrap();
    let log = home.join("log.jsonl");
    let program = env!("CARGO_BIN_EXE_overwire");
    let text = overwire::records::library::text("descending_rupture").unwrap();
    let blocks = text.len() / 512 + 320;
    let script =
        format!("trap '' XFSZ; ulimit -f {blocks}; exec \"$0\" play descending_rupture --text --log \"$1\"");
    let mut child = Command::new("sh")
        .args(["-c", &script, program])
        .arg(&log)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = child.stdin.take().unwrap();
    let _ = input.write_all(b"keep systolic 80-100\nread ct chest\npuncture right ultrasound\nwait 20 min\nwait 20 min\nwait 20 min\n");
    drop(input);
    let ended = child.wait_with_output().unwrap();
    let errors = String::from_utf8_lossy(&ended.stderr);
    assert_eq!(ended.status.code(), Some(2), "{errors}");
    assert!(errors.contains("cannot be written") && errors.contains("--log"), "{errors}");
    assert!(!errors.contains("panicked"), "{errors}");
    let kept = std::fs::read_to_string(&log).unwrap();
    assert!(kept.ends_with('\n') && kept.contains("puncture"), "whole lines, the orders among them");
    let replayed = Command::new(program).arg("replay").arg(&log).output().unwrap();
    assert!(replayed.status.success(), "{}", String::from_utf8_lossy(&replayed.stdout));
    std::fs::remove_dir_all(&home).unwrap();
}

/// The folder for the log is there and takes no files: sysfs lets nobody make one, not even the superuser, whom permission bits
/// do not stop (path_resolution(7)). It is said before the patient's first second, with what to do.
#[cfg(target_os = "linux")]
#[test]
fn a_folder_that_takes_no_files_is_said_before_the_case_begins() {
    let log = std::path::Path::new("/sys/kernel/overwire-log.jsonl");
    assert!(log.parent().is_some_and(std::path::Path::is_dir), "sysfs(5)");
    let program = env!("CARGO_BIN_EXE_overwire");
    for words in
        [&["play", "descending_rupture", "--text", "--log"][..], &["rehearse", "descending_rupture", "--log"]]
    {
        let out = Command::new(program).args(words).arg(log).stdin(Stdio::null()).output().unwrap();
        let errors = String::from_utf8_lossy(&out.stderr);
        assert_eq!(out.status.code(), Some(2), "{words:?}: {errors}");
        assert!(errors.contains("/sys/kernel/overwire-log.jsonl cannot be written"), "{words:?}: {errors}");
        assert!(errors.contains("--log FILE") && !errors.contains("panicked"), "{words:?}: {errors}");
        assert!(!log.exists());
    }
}
