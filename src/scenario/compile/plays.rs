//! Plays in full: with what they borrow from others filled in.

use crate::scenario::case::Play;

/// A play with the steps of the play that it is `like`: those with its own labels are replaced, new ones stand behind
/// the step that they follow in its own list.
///
/// # Errors
/// When there is no such play, or when it follows itself.
pub fn resolved(plays: &[Play], name: &str) -> Result<Play, String> {
    let mut chain: Vec<&Play> = Vec::new();
    let mut at = Some(name);
    while let Some(wanted) = at {
        if chain.len() > plays.len() {
            return Err(format!("the play \"{name}\" borrows from itself in a circle"));
        }
        let Some(play) = plays.iter().find(|p| p.name == wanted) else {
            return Err(format!("there is no play \"{wanted}\" to borrow from"));
        };
        chain.push(play);
        at = play.like.as_deref();
    }
    let Some(mut play) = chain.pop().cloned() else { return Err(format!("there is no play \"{name}\"")) };
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
    Ok(play)
}
