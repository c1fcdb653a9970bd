//! The one place for colours, type and spacing: a dark, warm reading room with one accent.
//!
//! Pairs of ink and ground keep the contrast of WCAG 2.1 level AA (4.5 to 1 for text); a test computes it.

use super::settings::Settings;
use super::words::{ENGLISH, Words};
use egui::{
    Color32, CornerRadius, FontData, FontDefinitions, FontFamily, FontId, Margin, RichText, Stroke, TextStyle,
};
use std::sync::Arc;

/// What every panel is given beside the facts: colours, words and habits.
#[derive(Clone, Copy)]
pub struct Look {
    /// Colours.
    pub ink: Palette,
    /// Every word on the screen.
    pub words: &'static Words,
    /// Nothing moves that need not.
    pub still: bool,
}

impl Look {
    /// The look that the settings ask for.
    pub fn of(settings: &Settings) -> Self {
        let ink = if settings.contrast { Palette::STARK } else { Palette::WARM };
        Self { ink, words: &ENGLISH, still: settings.still }
    }
}

/// Named colours. Nothing else in the desk names a colour by its numbers.
#[derive(Clone, Copy)]
pub struct Palette {
    /// Behind everything.
    pub ground: Color32,
    /// A panel on the ground.
    pub panel: Color32,
    /// Something to press or read first.
    pub raised: Color32,
    /// The same under the pointer.
    pub lifted: Color32,
    /// A box to tick, a slider's groove.
    pub well: Color32,
    /// Hairlines and frames.
    pub line: Color32,
    /// Text.
    pub text: Color32,
    /// Text that can wait.
    pub soft: Color32,
    /// What is not possible now; still legible.
    pub faint: Color32,
    /// The one accent: what can be done, what is chosen.
    pub accent: Color32,
    /// Text on the accent.
    pub on_accent: Color32,
    /// Vessel wall on the rail.
    pub vessel: Color32,
    /// The lesion.
    pub lesion: Color32,
    /// Fabric.
    pub fabric: Color32,
    /// Metal.
    pub metal: Color32,
    /// Plastic.
    pub plastic: Color32,
    /// Traces of the monitor.
    pub trace: Color32,
    /// Alarm, high priority: red, as IEC 60601-1-8 has it.
    pub high: Color32,
    /// Alarm, medium priority: yellow.
    pub medium: Color32,
    /// Alarm, low priority: cyan.
    pub low: Color32,
    /// Text on an alarm's colour.
    pub on_alarm: Color32,
    /// Behind a picture.
    pub film: Color32,
}

impl Palette {
    /// The usual room.
    pub const WARM: Self = Self {
        ground: Color32::from_rgb(22, 18, 15),
        panel: Color32::from_rgb(31, 26, 22),
        raised: Color32::from_rgb(44, 37, 31),
        lifted: Color32::from_rgb(58, 49, 41),
        well: Color32::from_rgb(126, 114, 98),
        line: Color32::from_rgb(70, 60, 50),
        text: Color32::from_rgb(243, 234, 220),
        soft: Color32::from_rgb(194, 180, 160),
        faint: Color32::from_rgb(158, 145, 127),
        accent: Color32::from_rgb(134, 199, 168),
        on_accent: Color32::from_rgb(16, 30, 23),
        vessel: Color32::from_rgb(94, 62, 54),
        lesion: Color32::from_rgb(222, 138, 116),
        fabric: Color32::from_rgb(214, 206, 190),
        metal: Color32::from_rgb(244, 240, 232),
        plastic: Color32::from_rgb(140, 160, 178),
        trace: Color32::from_rgb(232, 214, 182),
        high: Color32::from_rgb(255, 98, 86),
        medium: Color32::from_rgb(255, 214, 64),
        low: Color32::from_rgb(104, 214, 232),
        on_alarm: Color32::from_rgb(20, 12, 8),
        film: Color32::from_rgb(9, 8, 7),
    };
    /// Black and white for those who need it.
    pub const STARK: Self = Self {
        ground: Color32::BLACK,
        panel: Color32::from_rgb(8, 8, 8),
        raised: Color32::from_rgb(26, 26, 26),
        lifted: Color32::from_rgb(48, 48, 48),
        well: Color32::from_rgb(120, 120, 120),
        line: Color32::from_rgb(170, 170, 170),
        text: Color32::WHITE,
        soft: Color32::from_rgb(236, 236, 236),
        faint: Color32::from_rgb(196, 196, 196),
        accent: Color32::from_rgb(130, 255, 190),
        on_accent: Color32::BLACK,
        vessel: Color32::from_rgb(92, 56, 48),
        lesion: Color32::from_rgb(255, 160, 130),
        fabric: Color32::from_rgb(240, 236, 224),
        metal: Color32::WHITE,
        plastic: Color32::from_rgb(170, 200, 226),
        trace: Color32::WHITE,
        high: Color32::from_rgb(255, 110, 100),
        medium: Color32::from_rgb(255, 224, 70),
        low: Color32::from_rgb(120, 232, 250),
        on_alarm: Color32::BLACK,
        film: Color32::BLACK,
    };
    /// The colour of an alarm's priority: 1 low, 2 medium, 3 high.
    pub fn alarm(&self, priority: u8) -> Color32 {
        match priority {
            3.. => self.high,
            2 => self.medium,
            _ => self.low,
        }
    }
}

/// Gaps, points.
pub mod gap {
    /// Between things that belong together.
    pub const S: f32 = 4.0;
    /// Between things.
    pub const M: f32 = 8.0;
    /// Between groups.
    pub const L: f32 = 16.0;
    /// Between parts of a page.
    pub const XL: f32 = 28.0;
}

/// Sets fonts, spacing and colours of the whole context.
pub fn apply(ctx: &egui::Context, settings: &Settings) {
    let look = Look::of(settings);
    ctx.set_theme(egui::Theme::Dark);
    ctx.all_styles_mut(|style| dress(style, &look));
    ctx.set_zoom_factor(settings.zoom());
}

/// Loads the type faces; once per context.
pub fn load_fonts(ctx: &egui::Context) {
    let mut fonts = FontDefinitions::default();
    for (name, bytes) in [
        ("text", include_bytes!("../../assets/fonts/AtkinsonHyperlegible-Regular.ttf").as_slice()),
        ("bold", include_bytes!("../../assets/fonts/AtkinsonHyperlegible-Bold.ttf").as_slice()),
        ("serif", include_bytes!("../../assets/fonts/Literata-Heading.ttf").as_slice()),
    ] {
        fonts.font_data.insert(name.into(), Arc::new(FontData::from_static(bytes)));
    }
    let fallback = fonts.families.get(&FontFamily::Proportional).cloned().unwrap_or_default();
    let with =
        |first: &str| std::iter::once(first.to_owned()).chain(fallback.iter().cloned()).collect::<Vec<_>>();
    fonts.families.insert(FontFamily::Name("bold".into()), with("bold"));
    fonts.families.insert(FontFamily::Name("serif".into()), with("serif"));
    fonts.families.insert(FontFamily::Proportional, with("text"));
    ctx.set_fonts(fonts);
}

/// A page's title.
pub fn title(text: impl Into<String>) -> RichText {
    RichText::new(text).font(serif(30.0))
}

/// A section's heading.
pub fn heading(text: impl Into<String>) -> RichText {
    RichText::new(text).font(serif(19.0))
}

/// A small heading over a group.
pub fn eyebrow(look: &Look, text: &str) -> RichText {
    RichText::new(text).font(bold(13.0)).color(look.ink.soft)
}

/// The serif, at a size.
pub fn serif(size: f32) -> FontId {
    FontId::new(size, FontFamily::Name("serif".into()))
}

/// The bold face, at a size.
pub fn bold(size: f32) -> FontId {
    FontId::new(size, FontFamily::Name("bold".into()))
}

/// The text face, at a size.
pub fn plain(size: f32) -> FontId {
    FontId::new(size, FontFamily::Proportional)
}

/// Every letter as wide as the next, at a size.
pub fn mono(size: f32) -> FontId {
    FontId::monospace(size)
}

/// A sheet that lies on the ground.
pub fn sheet(look: &Look) -> egui::Frame {
    egui::Frame::new()
        .fill(look.ink.panel)
        .corner_radius(CornerRadius::same(10))
        .inner_margin(Margin::same(16))
}

/// A card that asks for attention.
pub fn card(look: &Look) -> egui::Frame {
    egui::Frame::new()
        .fill(look.ink.raised)
        .stroke(Stroke::new(1.0, look.ink.line))
        .corner_radius(CornerRadius::same(10))
        .inner_margin(Margin::same(14))
}

/// Contrast of two colours after WCAG 2.1 (relative luminance), 1 to 21.
pub fn contrast(a: Color32, b: Color32) -> f32 {
    let luminance = |c: Color32| {
        let channel = |v: u8| {
            let x = f64::from(v) / 255.0;
            if x <= 0.040_45 { x / 12.92 } else { crate::math::ops::powf((x + 0.055) / 1.055, 2.4) }
        };
        0.2126 * channel(c.r()) + 0.7152 * channel(c.g()) + 0.0722 * channel(c.b())
    };
    let (a, b) = (luminance(a), luminance(b));
    ((a.max(b) + 0.05) / (a.min(b) + 0.05)) as f32
}

fn dress(style: &mut egui::Style, look: &Look) {
    let ink = &look.ink;
    style.text_styles = [
        (TextStyle::Small, plain(13.0)),
        (TextStyle::Body, plain(16.0)),
        (TextStyle::Button, plain(16.0)),
        (TextStyle::Heading, serif(22.0)),
        (TextStyle::Monospace, FontId::monospace(14.0)),
    ]
    .into();
    style.animation_time = if look.still { 0.0 } else { 0.1 };
    style.spacing.item_spacing = egui::vec2(gap::M, gap::M);
    style.spacing.button_padding = egui::vec2(12.0, 6.0);
    style.spacing.interact_size.y = 30.0;
    style.spacing.scroll = egui::style::ScrollStyle::thin();
    let v = &mut style.visuals;
    v.dark_mode = true;
    v.panel_fill = ink.ground;
    v.window_fill = ink.panel;
    v.window_stroke = Stroke::new(1.0, ink.line);
    v.extreme_bg_color = ink.film;
    v.faint_bg_color = ink.panel;
    v.override_text_color = None;
    v.weak_text_color = Some(ink.soft);
    v.hyperlink_color = ink.accent;
    v.warn_fg_color = ink.medium;
    v.error_fg_color = ink.high;
    v.selection.bg_fill = ink.accent;
    v.selection.stroke = Stroke::new(1.0, ink.on_accent);
    // A blinking cursor would ask for a frame twice a second for ever.
    v.text_cursor.blink = false;
    v.text_cursor.stroke = Stroke::new(2.0, ink.accent);
    style.spacing.icon_width = 20.0;
    style.spacing.icon_width_inner = 11.0;
    let radius = CornerRadius::same(6);
    let dress = |w: &mut egui::style::WidgetVisuals, fill: Color32, edge: Color32, text: Color32| {
        w.bg_fill = fill;
        w.weak_bg_fill = fill;
        w.bg_stroke = Stroke::new(1.0, edge);
        w.fg_stroke = Stroke::new(1.0, text);
        w.corner_radius = radius;
        w.expansion = 0.0;
    };
    dress(&mut v.widgets.noninteractive, ink.panel, ink.line, ink.text);
    dress(&mut v.widgets.inactive, ink.raised, ink.line, ink.text);
    dress(&mut v.widgets.hovered, ink.lifted, ink.soft, ink.text);
    dress(&mut v.widgets.active, ink.lifted, ink.accent, ink.text);
    dress(&mut v.widgets.open, ink.lifted, ink.line, ink.text);
    for w in [&mut v.widgets.inactive, &mut v.widgets.hovered, &mut v.widgets.active] {
        w.bg_fill = ink.well;
    }
    v.disabled_alpha = 0.75;
}

#[cfg(test)]
mod tests {
    use super::*;

    /// WCAG 2.1, success criterion 1.4.3: 4.5 to 1 for text; 1.4.11: 3 to 1 for what carries meaning.
    #[test]
    fn every_ink_can_be_read_on_every_ground() {
        for p in [Palette::WARM, Palette::STARK] {
            for ground in [p.ground, p.panel, p.raised] {
                for (name, ink) in
                    [("text", p.text), ("soft", p.soft), ("faint", p.faint), ("accent", p.accent)]
                {
                    assert!(contrast(ink, ground) >= 4.5, "{name} {} on {ground:?}", contrast(ink, ground));
                }
                for ink in [p.well, p.lesion, p.fabric, p.metal, p.plastic, p.trace, p.high, p.medium, p.low]
                {
                    assert!(contrast(ink, ground) >= 3.0, "{ink:?} on {ground:?}");
                }
            }
            for (ink, ground) in
                [(p.on_accent, p.accent), (p.on_alarm, p.high), (p.on_alarm, p.medium), (p.on_alarm, p.low)]
            {
                assert!(contrast(ink, ground) >= 4.5, "{ink:?} on {ground:?}");
            }
        }
    }

    /// The definition's own ends: black on white is 21 to 1.
    #[test]
    fn contrast_of_black_and_white() {
        assert!((contrast(Color32::BLACK, Color32::WHITE) - 21.0).abs() < 1e-3);
    }
}
