//! A septum that splits the aorta into a true and a false lumen.

use super::Tree;
use super::spec::Dissection;

/// Splits the aorta between entry and end.
pub(super) fn split(_spec: &Dissection, _tree: &mut Tree) -> Result<(), String> {
    Err("anatomy, dissection: not built in this version; leave it out".to_owned())
}
