//! Plays in full: with what they borrow from others filled in.

use crate::scenario::case::Play;

/// A play with the steps of the play that it is `like`: those with its own labels are replaced, new ones stand behind
/// the step that they follow in its own list. `None` when there is no such play, or when it follows itself.
pub fn resolved(plays: &[Play], name: &str) -> Option<Play> {
    let mut chain: Vec<&Play> = Vec::new();
    let mut at = Some(name);
    while let Some(name) = at {
        let play = plays.iter().find(|p| p.name == name).filter(|_| chain.len() < plays.len())?;
        chain.push(play);
        at = play.like.as_deref();
    }
    let mut play = chain.pop()?.clone();
    for over in chain.into_iter().rev() {
        let mut last = None;
        for step in &over.steps {
            let same = play.steps.iter().position(|s| !s.label.is_empty() && s.label == step.label);
            let place = match (same, last) {
                (Some(i), _) => {
                    play.steps[i] = step.clone();
                    i
                }
                (None, behind) => {
                    let i = behind.map_or(play.steps.len(), |i: usize| i + 1);
                    play.steps.insert(i, step.clone());
                    i
                }
            };
            last = Some(place);
        }
        let steps = std::mem::take(&mut play.steps);
        play = Play { steps, like: None, ..over.clone() };
    }
    Some(play)
}
