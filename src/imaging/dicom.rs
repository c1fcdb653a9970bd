//! DICOM files: a run as a multi-frame X-Ray Angiographic image, CT slices as a CT series.
//!
//! Explicit little endian (PS3.5), file format of PS3.10; attributes of PS3.3 A.14 (XA) and A.3 (CT). Every file says in
//! its pixels, its comments and its patient's name that it is simulated.

use super::ct::{Plane, Slice};
use super::grey::{CAPTION, Grey};
use super::lettering;
use super::run::Run;

/// Who and what a file is about; the unique identifiers come from a hash of these.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Study {
    /// The case, without spaces.
    pub case: String,
    /// The session or run, to tell files of one case apart.
    pub session: String,
}

const XA_CLASS: &str = "1.2.840.10008.5.1.4.1.1.12.1";
const CT_CLASS: &str = "1.2.840.10008.5.1.4.1.1.2";
const EXPLICIT_LITTLE: &str = "1.2.840.10008.1.2.1";
/// Stored values of a run: 12 bits over this many nats.
const STORED_MAX: f32 = 4095.0;
const NATS: f32 = 8.0;

/// A run with its mask as the first frame, logarithmic, with a mask-subtraction rule that viewers apply.
pub fn run(run: &Run, study: &Study) -> Vec<u8> {
    let n = run.spec.pixels;
    let overlay = caption(n, n);
    let mut pixels = Vec::with_capacity((run.frames.len() + 1) * n * n * 2);
    let readings = std::iter::once(&run.mask.reading).chain(run.frames.iter().map(|f| &f.reading));
    for reading in readings {
        // Bright where much gets through, as a detector stores it.
        for (v, c) in reading.iter().zip(&overlay) {
            let stored = (STORED_MAX * (1.0 - (v + 2.0) / NATS)).clamp(0.0, STORED_MAX);
            let stored = if *c > 0 { STORED_MAX } else { stored };
            pixels.extend_from_slice(&(stored as u16).to_le_bytes());
        }
    }
    let p = &run.spec.pose;
    let mut d = Dataset::default();
    d.common(study, XA_CLASS, "XA", "1", "run");
    d.put(0x0008_0008, "CS", "ORIGINAL\\PRIMARY\\SINGLE PLANE");
    d.put(0x0018_0015, "CS", "CHEST");
    d.put(0x0018_0060, "DS", &decimal(run.spec.beam.kvp));
    d.put(0x0018_1063, "DS", &decimal(1000.0 / run.spec.fps));
    d.put(0x0018_1110, "DS", &decimal(p.sid_mm));
    d.put(0x0018_1111, "DS", &decimal(p.sod_mm));
    d.put(0x0018_1150, "IS", "");
    d.put(0x0018_1151, "IS", "");
    d.put(0x0018_1152, "IS", "");
    d.put(0x0018_1155, "CS", "GR");
    let pitch = p.field_mm / n as f64;
    d.put(0x0018_1164, "DS", &format!("{}\\{}", decimal(pitch), decimal(pitch)));
    d.put(0x0018_1500, "CS", "STATIC");
    d.put(0x0018_1510, "DS", &decimal(p.primary_deg));
    d.put(0x0018_1511, "DS", &decimal(p.secondary_deg));
    d.put(0x0020_0013, "IS", "1");
    d.put(0x0020_0020, "CS", "");
    d.frames(run.frames.len() + 1);
    d.image(n, n, 12, false, &pixels);
    d.put(0x0028_1040, "CS", "LOG");
    d.put(0x0028_1052, "DS", "0");
    d.put(0x0028_1053, "DS", "1");
    d.put(0x0028_1054, "LO", "US");
    d.mask_rule(run.frames.len() + 1);
    d.file(XA_CLASS)
}

/// One slice of a series, `index` counted from 1, cut at `plane`.
pub fn ct_slice(slice: &Slice, plane: &Plane, index: usize, spacing_mm: f64, study: &Study) -> Vec<u8> {
    let (w, h) = slice.size;
    let overlay = caption(w, h);
    let mut pixels = Vec::with_capacity(w * h * 2);
    for (v, c) in slice.hu.iter().zip(&overlay) {
        let stored = if *c > 0 { 3000.0 } else { v.clamp(-1024.0, 3071.0) };
        pixels.extend_from_slice(&((stored.round() as i16).to_le_bytes()));
    }
    let mut d = Dataset::default();
    d.common(study, CT_CLASS, "CT", "2", &format!("slice{index}"));
    let normal = plane.right.cross(plane.down);
    let kind =
        if normal.z.abs() > 0.999 { "ORIGINAL\\PRIMARY\\AXIAL" } else { "DERIVED\\SECONDARY\\REFORMATTED" };
    d.put(0x0008_0008, "CS", kind);
    d.put(0x0018_0015, "CS", "CHEST");
    d.put(0x0018_0050, "DS", &decimal(spacing_mm));
    d.put(0x0018_0060, "DS", "120");
    d.put(0x0018_5100, "CS", "HFS");
    d.put(0x0020_0012, "IS", "1");
    d.put(0x0020_0013, "IS", &index.to_string());
    let corner = plane.point(0.0, 0.0);
    d.put(0x0020_0032, "DS", &format!("{}\\{}\\{}", decimal(corner.x), decimal(corner.y), decimal(corner.z)));
    let six = [plane.right.x, plane.right.y, plane.right.z, plane.down.x, plane.down.y, plane.down.z];
    d.put(0x0020_0037, "DS", &six.map(decimal).join("\\"));
    d.put(0x0020_0052, "UI", &uid(&[&study.case, "frame"]));
    d.put(0x0020_1040, "LO", "");
    d.put(0x0028_0030, "DS", &format!("{}\\{}", decimal(slice.pixel_mm), decimal(slice.pixel_mm)));
    d.image(w, h, 16, true, &pixels);
    d.put(0x0028_1050, "DS", "200");
    d.put(0x0028_1051, "DS", "800");
    d.put(0x0028_1052, "DS", "0");
    d.put(0x0028_1053, "DS", "1");
    d.put(0x0028_1054, "LO", "HU");
    d.file(CT_CLASS)
}

/// Pixels of the training-only line.
fn caption(width: usize, height: usize) -> Vec<u8> {
    let mut g = Grey::black(width, height);
    let scale = (width / 512).max(1);
    let (w, h) = lettering::size(CAPTION, scale);
    lettering::write(
        &mut g,
        (width.saturating_sub(w) / 2, height.saturating_sub(h + 3)),
        CAPTION,
        scale,
        255,
    );
    g.pixels
}

/// At most 16 characters, as the value representation DS demands.
fn decimal(v: f64) -> String {
    let s = format!("{v:.6}");
    let s = s.trim_end_matches('0').trim_end_matches('.');
    let s = if s.is_empty() || s == "-0" { "0" } else { s };
    s.chars().take(16).collect()
}

/// A unique identifier under the root for UUIDs (PS3.5 B.2), from a hash of what it names.
fn uid(parts: &[&str]) -> String {
    let hash = blake3::hash(parts.join("\u{1f}").as_bytes());
    let mut bytes = [0u8; 16];
    bytes.copy_from_slice(&hash.as_bytes()[..16]);
    // Version and variant bits of a name-based UUID.
    bytes[6] = bytes[6] & 0x0f | 0x80;
    bytes[8] = bytes[8] & 0x3f | 0x80;
    format!("2.25.{}", u128::from_be_bytes(bytes))
}

/// Elements by tag, kept in order.
#[derive(Default)]
struct Dataset {
    elements: std::collections::BTreeMap<u32, Vec<u8>>,
    instance: String,
}

impl Dataset {
    /// Patient, study, series, equipment.
    fn common(&mut self, study: &Study, class: &str, modality: &str, series: &str, instance: &str) {
        self.instance = uid(&[&study.case, &study.session, modality, instance]);
        let instance = self.instance.clone();
        self.put(0x0008_0016, "UI", class);
        self.put(0x0008_0018, "UI", &instance);
        for (tag, vr) in [(0x0008_0020, "DA"), (0x0008_0023, "DA"), (0x0008_0030, "TM"), (0x0008_0033, "TM")]
        {
            self.put(tag, vr, "");
        }
        self.put(0x0008_0050, "SH", "");
        self.put(0x0008_0060, "CS", modality);
        self.put(0x0008_0070, "LO", "");
        self.put(0x0008_0090, "PN", "");
        self.put(0x0010_0010, "PN", "Simulated^Training only");
        self.put(0x0010_0020, "LO", &study.case);
        self.put(0x0010_0030, "DA", "");
        self.put(0x0010_0040, "CS", "");
        self.put(0x0020_000d, "UI", &uid(&[&study.case, &study.session, "study"]));
        self.put(0x0020_000e, "UI", &uid(&[&study.case, &study.session, modality, "series"]));
        self.put(0x0020_0010, "SH", "1");
        self.put(0x0020_0011, "IS", series);
        self.put(0x0020_4000, "LT", "Simulated, training only; not for decisions on real patients.");
        self.put(0x0028_0301, "CS", "YES");
    }

    fn frames(&mut self, count: usize) {
        self.put(0x0028_0008, "IS", &count.to_string());
        // Frames follow each other by the frame time, element (0018,1063).
        self.raw(0x0028_0009, "AT", &[0x18, 0x00, 0x63, 0x10]);
    }

    fn image(&mut self, width: usize, height: usize, bits: u16, signed: bool, pixels: &[u8]) {
        let mut short = |tag, v: u16| self.raw(tag, "US", &v.to_le_bytes());
        short(0x0028_0002, 1);
        short(0x0028_0010, height as u16);
        short(0x0028_0011, width as u16);
        short(0x0028_0100, 16);
        short(0x0028_0101, bits);
        short(0x0028_0102, bits - 1);
        short(0x0028_0103, u16::from(signed));
        self.put(0x0028_0004, "CS", "MONOCHROME2");
        self.put(0x0028_2110, "CS", "00");
        self.raw(0x7fe0_0010, "OW", pixels);
    }

    /// Frames after the first, less the first.
    fn mask_rule(&mut self, count: usize) {
        let mut item = Vec::new();
        element(&mut item, 0x0028_6101, "CS", &padded("AVG_SUB", b' '));
        let range: Vec<u8> = [2u16, count.max(2) as u16].iter().flat_map(|v| v.to_le_bytes()).collect();
        element(&mut item, 0x0028_6102, "US", &range);
        element(&mut item, 0x0028_6110, "US", &1u16.to_le_bytes());
        let mut sequence = vec![0xfe, 0xff, 0x00, 0xe0];
        sequence.extend_from_slice(&(item.len() as u32).to_le_bytes());
        sequence.extend_from_slice(&item);
        self.raw(0x0028_6100, "SQ", &sequence);
        self.put(0x0028_1090, "CS", "SUB");
    }

    fn put(&mut self, tag: u32, vr: &str, value: &str) {
        let pad = if vr == "UI" { 0 } else { b' ' };
        self.raw(tag, vr, &padded(value, pad));
    }
    fn raw(&mut self, tag: u32, vr: &str, value: &[u8]) {
        let mut bytes = Vec::with_capacity(value.len() + 12);
        element(&mut bytes, tag, vr, value);
        self.elements.insert(tag, bytes);
    }

    /// Preamble, file meta information, data.
    fn file(&self, class: &str) -> Vec<u8> {
        let mut meta = Vec::new();
        element(&mut meta, 0x0002_0001, "OB", &[0, 1]);
        element(&mut meta, 0x0002_0002, "UI", &padded(class, 0));
        element(&mut meta, 0x0002_0003, "UI", &padded(&self.instance, 0));
        element(&mut meta, 0x0002_0010, "UI", &padded(EXPLICIT_LITTLE, 0));
        element(&mut meta, 0x0002_0012, "UI", &padded(&uid(&["overwire"]), 0));
        let mut out = vec![0u8; 128];
        out.extend_from_slice(b"DICM");
        element(&mut out, 0x0002_0000, "UL", &(meta.len() as u32).to_le_bytes());
        out.extend_from_slice(&meta);
        self.elements.values().for_each(|e| out.extend_from_slice(e));
        out
    }
}

fn padded(value: &str, pad: u8) -> Vec<u8> {
    let mut v = value.as_bytes().to_vec();
    if v.len() % 2 == 1 {
        v.push(pad);
    }
    v
}

fn element(out: &mut Vec<u8>, tag: u32, vr: &str, value: &[u8]) {
    out.extend_from_slice(&((tag >> 16) as u16).to_le_bytes());
    out.extend_from_slice(&(tag as u16).to_le_bytes());
    out.extend_from_slice(vr.as_bytes());
    if matches!(vr, "OB" | "OW" | "SQ" | "UN") {
        out.extend_from_slice(&[0, 0]);
        out.extend_from_slice(&(value.len() as u32).to_le_bytes());
    } else {
        out.extend_from_slice(&(value.len() as u16).to_le_bytes());
    }
    out.extend_from_slice(value);
}
