//! The teaching view: vessels and what lies in them in three dimensions, to turn by hand. It shows what no picture in the
//! room shows, so an examination has none. It is painted like everything else and wants no graphics card.

use crate::anatomy::Tree;
use crate::desk::aside::aside;
use crate::desk::theme::Look;
use crate::desk::vessels::{Rod, VesselsPanel};
use crate::imaging::{Material, Shape};
use crate::session::{Session, Stage};
use egui::Vec2;
use std::sync::mpsc::Receiver;

/// How long a view is good for while time passes, ticks.
const FRESH: u64 = 10;

/// What is seen, and from where.
#[derive(Default)]
pub(super) struct Inside {
    panel: VesselsPanel,
    /// The vessels of a moment, and what lies in them.
    seen: Option<(Tree, Vec<Rod>)>,
    asked: Option<u64>,
    worker: Option<Receiver<Stage>>,
}

impl Inside {
    /// Is it still being looked up?
    pub fn busy(&self) -> bool {
        self.worker.is_some() || self.seen.is_none()
    }

    /// Takes in what was looked up meanwhile, and asks again when it is old. How rods lie takes longer than a frame.
    pub fn refresh(&mut self, ctx: &egui::Context, session: &Session) {
        if let Some(stage) = self.worker.as_ref().and_then(|w| w.try_recv().ok()) {
            self.worker = None;
            let rods = stage.devices.iter().map(rod).collect();
            self.seen = Some((stage.tree, rods));
        }
        let now = session.now().0;
        let fresh = |at: u64| (at..at + FRESH).contains(&now);
        if self.worker.is_some() || self.asked.is_some_and(fresh) {
            return;
        }
        let copy = session.clone();
        // Without a worker the view stays as it was.
        if let Ok(receive) = aside("inside", ctx, move || copy.stage()) {
            (self.asked, self.worker) = (Some(now), Some(receive));
        }
    }

    /// Shows it in so much room.
    pub fn ui(&mut self, ui: &mut egui::Ui, look: &Look, size: Vec2) {
        let w = look.words;
        let Some((tree, rods)) = &self.seen else {
            ui.allocate_ui(size, |ui| {
                ui.set_min_size(size);
                ui.label(w.drawing);
            });
            return;
        };
        self.panel.ui(ui, look, size, w.inside_about, tree, rods);
    }
}

fn rod(shape: &Shape) -> Rod {
    let metal = matches!(
        shape.substance.material,
        Material::Nitinol | Material::Steel | Material::Platinum | Material::Tantalum
    );
    Rod { path: shape.path.clone(), radius_mm: shape.radius_mm(0), metal }
}
