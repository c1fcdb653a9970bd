//! Centrelines with radii from other programs: comma-separated tables and VTK legacy polydata.
//!
//! [`read`] turns text into polylines and says where it is wrong. [`tree`] joins them: each line is cut where it leaves
//! its parent's lumen, so the usual export, in which every line starts at the root, needs no editing.

use super::course::{arc, respace};
use super::profile::Profile;
use super::{Lumen, Root, Tree, Vessel, VesselName, Wall, WallLaw};
use crate::math::{Curve, Vec3};
use serde::{Deserialize, Serialize};

/// A centreline as read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Polyline {
    /// What the table calls it; empty in VTK files.
    pub label: String,
    /// Points, mm in DICOM's patient axes (x left, y back, z head).
    pub points: Vec<Vec3>,
    /// Radius of the largest sphere inside the vessel, or of its circle, mm.
    pub radius_mm: Vec<f64>,
}

/// Patient axes of a file.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Axes {
    /// x left, y back, z head, as in DICOM.
    #[default]
    Lps,
    /// x right, y front, z head, as in NIfTI.
    Ras,
}

/// Most points that a file may hold.
const MOST_POINTS: usize = 200_000;
/// Spacing of the knots of an imported centreline, mm.
const KNOT_MM: f64 = 6.0;

/// Reads a table or polydata, whichever the text is. Errors name the line.
pub fn read(text: &str, axes: Axes) -> Result<Vec<Polyline>, String> {
    let mut lines = if text.trim_start().starts_with("# vtk") { read_vtk(text)? } else { read_csv(text)? };
    if axes == Axes::Ras {
        for p in lines.iter_mut().flat_map(|l| &mut l.points) {
            *p = Vec3::new(-p.x, -p.y, p.z);
        }
    }
    for (i, line) in lines.iter_mut().enumerate() {
        drop_repeats(line);
        if line.points.len() < 4 {
            return Err(format!("centreline {}: it has fewer than four different points", i + 1));
        }
    }
    if lines.is_empty() {
        return Err("centreline file: it holds no line".to_owned());
    }
    Ok(lines)
}

/// Comma, semicolon or tab separated, with a heading that names `x`, `y`, `z` and `radius` (or `r`, or
/// `MaximumInscribedSphereRadius`) and, for several vessels in one table, `vessel`. Millimetres.
fn read_csv(text: &str) -> Result<Vec<Polyline>, String> {
    let mut rows =
        text.lines().enumerate().filter(|(_, l)| !l.trim().is_empty() && !l.trim_start().starts_with('#'));
    let (_, head) = rows
        .next()
        .ok_or("centreline table: it is empty; the first line names the columns x, y, z, radius")?;
    let separator = [';', '\t', ','].into_iter().find(|&c| head.contains(c)).unwrap_or(',');
    let names: Vec<String> =
        head.split(separator).map(|c| c.trim().trim_matches('"').to_lowercase()).collect();
    let column = |wanted: &[&str]| names.iter().position(|n| wanted.contains(&n.as_str()));
    let find = |wanted: &[&str]| {
        column(wanted)
            .ok_or(format!("centreline table: no column \"{}\" in the first line: {head}", wanted[0]))
    };
    let at = [
        find(&["x"])?,
        find(&["y"])?,
        find(&["z"])?,
        find(&["radius", "r", "maximuminscribedsphereradius"])?,
    ];
    let vessel = column(&["vessel", "name", "branch"]);
    let mut lines: Vec<Polyline> = Vec::new();
    let mut count = 0;
    for (number, row) in rows {
        let cells: Vec<&str> = row.split(separator).map(|c| c.trim().trim_matches('"')).collect();
        let mut value = [0.0; 4];
        for (v, (&i, what)) in value.iter_mut().zip(at.iter().zip(["x", "y", "z", "radius"])) {
            let cell = cells.get(i).copied().unwrap_or("");
            *v = number_in(cell).ok_or(format!(
                "centreline table, line {}: {what} is \"{cell}\", not a number",
                number + 1
            ))?;
        }
        let label = vessel.and_then(|i| cells.get(i)).copied().unwrap_or("");
        if lines.last().is_none_or(|l| l.label != label) {
            lines.push(Polyline { label: label.to_owned(), ..Polyline::default() });
        }
        if let Some(line) = lines.last_mut() {
            line.points.push(Vec3::new(value[0], value[1], value[2]));
            line.radius_mm.push(positive(value[3], number)?);
        }
        count += 1;
        if count > MOST_POINTS {
            return Err(format!("centreline table: more than {MOST_POINTS} points; thin it out"));
        }
    }
    Ok(lines)
}

fn number_in(cell: &str) -> Option<f64> {
    cell.parse::<f64>().ok().filter(|v| v.is_finite() && v.abs() < 1e5)
}

fn positive(radius: f64, line: usize) -> Result<f64, String> {
    if (0.05..=100.0).contains(&radius) {
        Ok(radius)
    } else {
        Err(format!("centreline, line {}: a radius of {radius} mm; write one from 0.05 to 100", line + 1))
    }
}

/// Words of a VTK file with the line that each stands in.
struct Words<'a> {
    rest: Box<dyn Iterator<Item = (usize, &'a str)> + 'a>,
    line: usize,
}

impl<'a> Words<'a> {
    fn new(text: &'a str) -> Self {
        let rest =
            text.lines().enumerate().skip(2).flat_map(|(i, l)| l.split_whitespace().map(move |w| (i + 1, w)));
        Self { rest: Box::new(rest), line: 0 }
    }
    fn word(&mut self) -> Option<&'a str> {
        let (line, word) = self.rest.next()?;
        self.line = line;
        Some(word)
    }
    fn need(&mut self, what: &str) -> Result<&'a str, String> {
        let line = self.line;
        self.word().ok_or(format!("centreline file: it ends after line {line}, where {what} should follow"))
    }
    fn number(&mut self, what: &str) -> Result<f64, String> {
        let word = self.need(what)?;
        number_in(word)
            .ok_or(format!("centreline file, line {}: {what} is \"{word}\", not a number", self.line))
    }
    fn count(&mut self, what: &str) -> Result<usize, String> {
        let word = self.need(what)?;
        let bad = || {
            format!(
                "centreline file, line {}: {what} is \"{word}\"; at most {MOST_POINTS} are read",
                self.line
            )
        };
        word.parse().ok().filter(|&n: &usize| n <= 8 * MOST_POINTS).ok_or_else(bad)
    }
}

/// VTK legacy format, ASCII, POLYDATA with POINTS, LINES (either layout) and a radius among the point data.
fn read_vtk(text: &str) -> Result<Vec<Polyline>, String> {
    let mut words = Words::new(text);
    let mode = words.need("ASCII")?;
    if mode != "ASCII" {
        return Err(format!("centreline file: it is {mode}; save it as ASCII legacy VTK"));
    }
    let mut points: Vec<Vec3> = Vec::new();
    let mut lines: Vec<Vec<usize>> = Vec::new();
    let mut radii: Option<Vec<f64>> = None;
    let mut of_points = false;
    while let Some(word) = words.word() {
        match word {
            "DATASET" => {
                let kind = words.need("the kind of data set")?;
                if kind != "POLYDATA" {
                    return Err(format!("centreline file: it holds {kind}; POLYDATA with LINES is needed"));
                }
            }
            "POINTS" => {
                let n = words.count("the number of points")?;
                words.need("the type of the points")?;
                for _ in 0..n {
                    let [x, y, z] = [words.number("x")?, words.number("y")?, words.number("z")?];
                    points.push(Vec3::new(x, y, z));
                }
            }
            "LINES" => lines = read_lines(&mut words)?,
            "POINT_DATA" => {
                words.count("the number of point data")?;
                of_points = true;
            }
            "CELL_DATA" => {
                words.count("the number of cell data")?;
                of_points = false;
            }
            "SCALARS" => {
                let name = words.need("the name of a scalar")?.to_lowercase();
                words.need("the type of a scalar")?;
                // An optional number of components, then LOOKUP_TABLE and its name.
                if words.need("LOOKUP_TABLE")? != "LOOKUP_TABLE" {
                    words.need("LOOKUP_TABLE")?;
                }
                words.need("the name of the lookup table")?;
                if of_points && name.contains("radius") {
                    radii =
                        Some((0..points.len()).map(|_| words.number("a radius")).collect::<Result<_, _>>()?);
                }
            }
            "FIELD" => {
                words.need("the name of a field")?;
                for _ in 0..words.count("the number of arrays")? {
                    read_array(&mut words, of_points, points.len(), &mut radii)?;
                }
            }
            // Values of arrays that we do not use.
            _ => {}
        }
    }
    let radii = radii.ok_or(
        "centreline file: no point data with \"radius\" in its name; export the radius with the line",
    )?;
    let mut out = Vec::new();
    for indices in lines {
        let mut line = Polyline::default();
        for i in indices {
            let (Some(&p), Some(&r)) = (points.get(i), radii.get(i)) else {
                return Err(format!(
                    "centreline file: a line names point {i}, but there are {}",
                    points.len()
                ));
            };
            line.points.push(p);
            line.radius_mm.push(positive(r, words.line)?);
        }
        out.push(line);
    }
    Ok(out)
}

/// One array of a FIELD: name, components, tuples, type, values.
fn read_array(
    words: &mut Words<'_>,
    of_points: bool,
    points: usize,
    radii: &mut Option<Vec<f64>>,
) -> Result<(), String> {
    let name = words.need("the name of an array")?.to_lowercase();
    let parts = words.count("the number of components")?;
    let n = words.count("the number of tuples")?;
    words.need("the type of an array")?;
    let wanted = of_points && name.contains("radius") && parts == 1 && n == points;
    if wanted {
        *radii = Some((0..n).map(|_| words.number("a radius")).collect::<Result<_, _>>()?);
    } else {
        for _ in 0..parts.saturating_mul(n) {
            words.need("a value")?;
        }
    }
    Ok(())
}

/// `LINES n size` then `k i…` for each, or, since version 5, offsets and connectivity.
fn read_lines(words: &mut Words<'_>) -> Result<Vec<Vec<usize>>, String> {
    let n = words.count("the number of lines")?;
    let size = words.count("the size of the lines")?;
    let first = words.need("the lines")?;
    if first == "OFFSETS" {
        words.need("the type of the offsets")?;
        let offsets = (0..n).map(|_| words.count("an offset")).collect::<Result<Vec<_>, _>>()?;
        words.need("CONNECTIVITY")?;
        words.need("the type of the connectivity")?;
        let indices = (0..size).map(|_| words.count("a point's number")).collect::<Result<Vec<_>, _>>()?;
        let part = |w: &[usize]| indices.get(w[0]..w[1]).map(<[usize]>::to_vec);
        return offsets
            .windows(2)
            .map(|w| part(w).ok_or("centreline file: its offsets fall".to_owned()))
            .collect();
    }
    let mut lines = Vec::new();
    let mut k: usize = first
        .parse()
        .map_err(|_| format!("centreline file, line {}: \"{first}\" is not a number", words.line))?;
    for i in 0..n {
        if i > 0 {
            k = words.count("the length of a line")?;
        }
        lines.push((0..k).map(|_| words.count("a point's number")).collect::<Result<Vec<_>, _>>()?);
    }
    Ok(lines)
}

fn drop_repeats(line: &mut Polyline) {
    let mut kept = Polyline { label: line.label.clone(), ..Polyline::default() };
    for (&p, &r) in line.points.iter().zip(&line.radius_mm) {
        if kept.points.last().is_none_or(|&last: &Vec3| last.distance(p) > 1e-4) {
            kept.points.push(p);
            kept.radius_mm.push(r);
        }
    }
    *line = kept;
}

/// Joins named centrelines to a tree at the given mean pressure. The aorta comes from the valve, or as near
/// to it as the scan goes; other lines may start at the root or at their parent. A line without a match in
/// `names` is left out.
pub fn tree(
    lines: &[Polyline],
    names: &[VesselName],
    map_mmhg: f64,
    n_theta: usize,
) -> Result<Tree, Vec<String>> {
    let mut faults = Vec::new();
    let mut tree = Tree { vessels: Vec::new(), reference_map_mmhg: map_mmhg };
    let Some(aorta) = names.iter().position(|&n| n == VesselName::Aorta).and_then(|i| lines.get(i)) else {
        return Err(vec![
            "centreline file: no line is named the aorta; list the vessels in the order of the lines"
                .to_owned(),
        ]);
    };
    match vessel(VesselName::Aorta, &aorta.points, &aorta.radius_mm, None, n_theta) {
        Some(v) => tree.vessels.push(v),
        None => {
            return Err(vec!["centreline of the aorta: shorter than 20 mm, or it doubles back".to_owned()]);
        }
    }
    // Parents before children: names are listed in that order.
    let mut order: Vec<usize> =
        (0..lines.len().min(names.len())).filter(|&i| names[i] != VesselName::Aorta).collect();
    order.sort_by_key(|&i| names[i]);
    for i in order {
        match branch(&tree, names[i], &lines[i]) {
            Ok(v) if tree.get(v.name).is_some() => {
                faults.push(format!("centreline {}: a second {}", i + 1, v.name.label()))
            }
            Ok(v) => tree.vessels.push(v),
            Err(fault) => faults.push(format!("centreline {}, {}: {fault}", i + 1, names[i].label())),
        }
    }
    if faults.is_empty() { Ok(tree) } else { Err(faults) }
}

/// The part of a line outside every vessel that is already there.
fn branch(tree: &Tree, name: VesselName, line: &Polyline) -> Result<Vessel, String> {
    // How deep in a vessel a point lies: distance from its centreline over its radius there.
    let depth = |v: &Vessel, p: Vec3| {
        let s = v.curve.nearest(p);
        (v.curve.point(s).distance(p) / (0.5 * v.lumen.diameter_mm(s)).max(0.1), s)
    };
    let nearest = |p: Vec3| {
        let all = tree.vessels.iter().enumerate().map(|(i, v)| (i, depth(v, p)));
        all.fold((0, (f64::INFINITY, 0.0)), |best, x| if x.1.0 < best.1.0 { x } else { best })
    };
    let inside = line.points.iter().rposition(|&p| nearest(p).1.0 < 1.0);
    let first = inside.unwrap_or(0);
    let start = line.points[first];
    let (parent, (gap, s_mm)) = nearest(start);
    if gap > 4.0 {
        return Err("it touches no other vessel; check its axes and its parent".to_owned());
    }
    let rest = line.points.len() - first;
    if rest < 4 {
        return Err("it lies inside its parent; it should go on beyond it".to_owned());
    }
    let v = &tree.vessels[parent];
    let frame = v.curve.frame(s_mm);
    let out = line.points[(first + 2).min(line.points.len() - 1)] - frame.at;
    let root = Root {
        parent,
        s_mm,
        theta_rad: frame.angle_of(out),
        radius_mm: line.radius_mm[(first + 1).min(line.points.len() - 1)],
    };
    let made = vessel(name, &line.points[first..], &line.radius_mm[first..], Some(root), 24);
    made.ok_or_else(|| "beyond its parent it is shorter than 5 mm, or it doubles back".to_owned())
}

fn vessel(
    name: VesselName,
    points: &[Vec3],
    radii: &[f64],
    root: Option<Root>,
    n_theta: usize,
) -> Option<Vessel> {
    let length = arc(points);
    if length < if root.is_none() { 20.0 } else { 5.0 } {
        return None;
    }
    let curve = Curve::through(&respace(points, KNOT_MM.min(length / 4.0)))?;
    let (mut walked, mut table) = (0.0, Vec::with_capacity(points.len()));
    for (i, &r) in radii.iter().enumerate() {
        if i > 0 {
            walked += points[i].distance(points[i - 1]);
        }
        table.push((walked * curve.length_mm() / length, r));
    }
    let profile = Profile::new(&table);
    let step = if root.is_none() { 1.0 } else { 1.5 };
    let lumen = Lumen::sample(curve.length_mm(), step, n_theta, |s, _| profile.at(s));
    Some(Vessel { name, curve, lumen, wall: Wall { law: WallLaw::default(), ..Wall::default() }, root })
}
