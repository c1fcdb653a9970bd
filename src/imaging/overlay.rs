//! Names laid over a picture, and lengths measured on it.

use super::grey::Grey;
use super::pose::View;
use crate::anatomy::{Tree, VesselName};

/// A name and where its thing lies on the picture, pixels.
#[derive(Clone, Debug, PartialEq)]
pub struct Label {
    /// Text.
    pub text: String,
    /// Column and row.
    pub at: (f64, f64),
}

/// Height that the caption takes at 512 pixels.
const CAPTION_PX: f64 = 24.0;

/// Names of the branches and lesions that a view holds: a branch some way along its course, a lesion at its deepest wall.
pub fn labels(tree: &Tree, view: &View) -> Vec<Label> {
    // The lower edge belongs to the caption.
    let inside = |at: (f64, f64)| {
        let most = view.pixels as f64 - 12.0;
        at.0 > 12.0 && at.1 > 12.0 && at.0 < most && at.1 < most - CAPTION_PX * view.pixels as f64 / 512.0
    };
    let mut out = Vec::new();
    for vessel in tree.vessels.iter().skip(1).filter(|v| v.name != VesselName::Intercostals) {
        // The farthest of three places that still falls in the field.
        let along = [0.45, 0.25, 0.1].map(|part| vessel.curve.point(part * vessel.curve.length_mm()));
        let seen = along.iter().map(|p| view.project(*p)).map(|(x, y, _)| (x, y)).find(|at| inside(*at));
        if let Some(at) = seen {
            out.push(Label { text: vessel.name.label().to_owned(), at });
        }
    }
    for vessel in &tree.vessels {
        for lesion in &vessel.wall.lesions {
            let s = lesion.at_mm();
            let frame = vessel.curve.frame(s);
            let theta = lesion.theta_rad.unwrap_or(0.0);
            let wall = frame.at + frame.radial(theta) * vessel.lumen.radius(s, theta);
            let (x, y, _) = view.project(wall);
            if inside((x, y)) {
                out.push(Label { text: lesion.label.clone(), at: (x, y) });
            }
        }
    }
    out
}

/// The picture with its labels, moved down where they would cover each other.
pub fn draw(mut image: Grey, labels: &[Label]) -> Grey {
    let step = 11.0 * (image.width / 400).max(1) as f64;
    let mut rows: Vec<&Label> = labels.iter().collect();
    rows.sort_by(|a, b| a.at.1.total_cmp(&b.at.1));
    let mut placed: Vec<(f64, f64, f64)> = Vec::new();
    for l in rows {
        let half = 3.0 * l.text.chars().count() as f64 * step / 11.0;
        let mut y = l.at.1;
        while placed.iter().any(|p| (p.1 - y).abs() < step && (p.0 - l.at.0).abs() < p.2 + half) {
            y += step;
        }
        placed.push((l.at.0, y, half));
        image = image.labelled((l.at.0, y), &l.text, 250);
    }
    image
}

/// Millimetres on a picture, by marks of known spacing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Calibration {
    /// Length of one pixel at the depth of the marks, mm.
    pub mm_per_pixel: f64,
}

impl Calibration {
    /// From two marks of a calibrated catheter, known to lie `spacing_mm` apart; `None` when they are the same place.
    ///
    /// It holds at the catheter's depth and where the catheter lies across the beam: foreshortened marks make everything
    /// else read too long, as in life.
    pub fn from_marks(spacing_mm: f64, a: (f64, f64), b: (f64, f64)) -> Option<Self> {
        let px = distance(a, b);
        (px > 1e-6).then(|| Self { mm_per_pixel: spacing_mm / px })
    }
    /// Length between two places, mm.
    pub fn length_mm(&self, a: (f64, f64), b: (f64, f64)) -> f64 {
        distance(a, b) * self.mm_per_pixel
    }
}

fn distance(a: (f64, f64), b: (f64, f64)) -> f64 {
    ((a.0 - b.0) * (a.0 - b.0) + (a.1 - b.1) * (a.1 - b.1)).sqrt()
}
