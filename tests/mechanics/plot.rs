//! A line chart as an SVG file.

use overwire::math::ops;
use std::fmt::Write;

/// One curve: a name and its points.
pub type Curve = (String, Vec<(f64, f64)>);

/// A chart.
pub struct Chart<'a> {
    pub title: &'a str,
    pub x: &'a str,
    pub y: &'a str,
    /// Decades instead of an even scale.
    pub log: bool,
    pub curves: Vec<Curve>,
}

const COLOURS: [&str; 8] =
    ["#1b6ca8", "#d1603d", "#2a9d5c", "#8a4fbf", "#b8860b", "#c2185b", "#455a64", "#00897b"];
const W: f64 = 420.0;
const H: f64 = 300.0;

/// Several charts side by side.
pub fn sheet(charts: &[Chart<'_>]) -> String {
    let columns = charts.len().min(3);
    let rows = charts.len().div_ceil(columns);
    let (w, h) = (W * columns as f64, H * rows as f64 + 16.0);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w} {h}\" width=\"{w}\" height=\"{h}\" font-family=\"sans-serif\" font-size=\"10\"><rect width=\"100%\" height=\"100%\" fill=\"white\"/>"
    );
    for (i, chart) in charts.iter().enumerate() {
        let (x, y) = (W * (i % columns) as f64, H * (i / columns) as f64);
        let _ = write!(out, "<g transform=\"translate({x},{y})\">{}</g>", chart.svg());
    }
    let _ = write!(
        out,
        "<text x=\"8\" y=\"{}\" fill=\"#666\">Training only: model output, not for decisions on real patients.</text></svg>",
        h - 4.0
    );
    out
}

impl Chart<'_> {
    fn svg(&self) -> String {
        let all = || self.curves.iter().flat_map(|c| &c.1);
        let span = |f: fn(&(f64, f64)) -> f64| {
            all().map(f).fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)))
        };
        let (x0, x1) = span(|p| p.0);
        let (mut y0, mut y1) = span(|p| p.1);
        let scale = |v: f64| if self.log { ops::log10(v.max(0.1)) } else { v };
        if self.log {
            (y0, y1) = (scale(y0).floor(), scale(y1).ceil());
        } else {
            y0 = y0.min(0.0);
            y1 += 0.05 * (y1 - y0).max(1e-9);
        }
        let (l, r, t, b) = (46.0, W - 12.0, 24.0, H - 36.0);
        let px = |x: f64| l + (x - x0) / (x1 - x0).max(1e-9) * (r - l);
        let py = |y: f64| b - (scale(y) - y0) / (y1 - y0).max(1e-9) * (b - t);
        let mut s = format!(
            "<text x=\"{l}\" y=\"15\" font-size=\"12\">{}</text><text x=\"{}\" y=\"{}\" text-anchor=\"middle\">{}</text><text transform=\"translate(11,{}) rotate(-90)\" text-anchor=\"middle\">{}</text>",
            self.title,
            0.5 * (l + r),
            H - 8.0,
            self.x,
            0.5 * (t + b),
            self.y
        );
        for i in 0..=5 {
            let x = x0 + (x1 - x0) * f64::from(i) / 5.0;
            let _ = write!(
                s,
                "<line x1=\"{0}\" x2=\"{0}\" y1=\"{t}\" y2=\"{b}\" stroke=\"#ddd\"/><text x=\"{0}\" y=\"{1}\" text-anchor=\"middle\">{2:.0}</text>",
                px(x),
                b + 13.0,
                x
            );
        }
        let steps = if self.log { (y1 - y0) as u32 } else { 5 };
        for i in 0..=steps {
            let v = y0 + (y1 - y0) * f64::from(i) / f64::from(steps.max(1));
            let shown = if self.log { ops::powf(10.0, v) } else { v };
            let y = py(shown);
            let text = if y1 - y0 < 8.0 && !self.log { format!("{shown:.1}") } else { format!("{shown:.0}") };
            let _ = write!(
                s,
                "<line x1=\"{l}\" x2=\"{r}\" y1=\"{y}\" y2=\"{y}\" stroke=\"#ddd\"/><text x=\"{}\" y=\"{}\" text-anchor=\"end\">{text}</text>",
                l - 4.0,
                y + 3.0
            );
        }
        for (i, (name, points)) in self.curves.iter().enumerate() {
            let colour = COLOURS[i % COLOURS.len()];
            let path: Vec<String> = points.iter().map(|p| format!("{:.1},{:.1}", px(p.0), py(p.1))).collect();
            let _ = write!(
                s,
                "<polyline points=\"{}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"1.6\"/>",
                path.join(" ")
            );
            for p in points {
                let _ = write!(
                    s,
                    "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"2\" fill=\"{colour}\"/>",
                    px(p.0),
                    py(p.1)
                );
            }
            let _ = write!(
                s,
                "<text x=\"{}\" y=\"{}\" fill=\"{colour}\" text-anchor=\"end\">{name}</text>",
                r - 4.0,
                t + 12.0 + 12.0 * i as f64
            );
        }
        s
    }
}
