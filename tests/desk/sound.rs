//! The speaker with player programs of our own making: what it hands them, and what it says when they fail.

use super::fixture::home;
use overwire::desk::sound::speaker::{Silence, Speaker};
use overwire::desk::sound::{RATE_HZ, Sound};

/// RIFF and WAVE (Microsoft and IBM, Multimedia Programming Interface 1.0, 1991), read back by hand.
#[test]
fn a_sound_is_a_file_that_players_know() {
    let sound = Sound::Alarm(2);
    let wav = sound.wav();
    let word = |at: usize| u32::from_le_bytes(wav[at..at + 4].try_into().unwrap());
    assert_eq!((&wav[..4], &wav[8..16], &wav[36..40]), (&b"RIFF"[..], &b"WAVEfmt "[..], &b"data"[..]));
    assert_eq!(word(4) as usize, wav.len() - 8);
    assert_eq!(word(40) as usize, wav.len() - 44);
    assert_eq!(word(24), RATE_HZ);
    let seconds = f64::from(word(40)) / f64::from(word(28));
    assert!((seconds - sound.seconds()).abs() < 0.01, "{seconds}");
}

#[test]
fn without_a_player_it_says_which_it_looked_for() {
    let speaker = Speaker::among(std::ffi::OsStr::new("/nonexistent"));
    let Some(Silence::NoPlayer(names)) = speaker.silence() else { panic!("{:?}", speaker.silence()) };
    assert!(!names.is_empty());
}

/// Plays until the speaker has nothing more to say or `enough` holds.
#[cfg(target_os = "linux")]
fn play_until(speaker: &mut Speaker, enough: impl Fn(&Speaker) -> bool) {
    for _ in 0..400 {
        speaker.play(Sound::Alarm(3));
        if enough(speaker) {
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(25));
    }
    panic!("nothing came of it: {:?}", speaker.silence());
}

#[cfg(target_os = "linux")]
fn script(folder: &std::path::Path, name: &str, text: &str) {
    use std::os::unix::fs::PermissionsExt;
    let path = folder.join(name);
    std::fs::write(&path, format!("#!/bin/sh\n{text}\n")).unwrap();
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o755)).unwrap();
}

/// The first player has no server to talk to: the second is asked, and gets the file.
#[cfg(target_os = "linux")]
#[test]
fn a_player_that_fails_makes_way_for_the_next() {
    let home = home("speaker");
    script(&home, "pw-play", "echo 'no server' >&2; exit 1");
    script(&home, "aplay", &format!("cp \"$2\" {0}/part && mv {0}/part {0}/heard.wav", home.display()));
    let mut speaker = Speaker::among(home.as_os_str());
    let heard = home.join("heard.wav");
    play_until(&mut speaker, |_| heard.exists());
    assert_eq!(std::fs::read(heard).unwrap(), Sound::Alarm(3).wav());
    assert_eq!(speaker.silence(), None);
    drop(speaker);
    std::fs::remove_dir_all(&home).unwrap();
}

#[cfg(target_os = "linux")]
#[test]
fn when_every_player_fails_the_last_ones_words_are_kept() {
    let home = home("silent");
    script(&home, "aplay", "echo 'audio open error: No such file or directory' >&2; exit 1");
    let mut speaker = Speaker::among(home.as_os_str());
    play_until(&mut speaker, |s| s.silence().is_some());
    let said = "aplay: audio open error: No such file or directory";
    assert_eq!(speaker.silence(), Some(&Silence::Failed(said.into())));
    std::fs::remove_dir_all(&home).unwrap();
}
