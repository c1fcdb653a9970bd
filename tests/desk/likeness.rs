//! Stored pictures of the screens, coarse: means of blocks of 8 x 8 pixels, in grey. A letter more or less, another driver's
//! smoothing or another moment of a trace stays below the limit; a panel that is gone, moved or painted over does not.

use std::path::{Path, PathBuf};

/// Pixels on a block's edge.
const BLOCK: usize = 8;
/// Levels of grey by which a block must differ to count.
const LEVELS: u8 = 14;
/// Share of blocks that may differ: of a screen that stands still, and of one whose traces, pictures and clock move on with the
/// time that the computer takes.
const STILL: f64 = 0.03;
const MOVING: f64 = 0.06;
/// The debrief's own pictures come when the log has been played again: before or after the picture is taken.
const COMING: f64 = 0.15;

fn stored(screen: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/desk/screens/{screen}.png"))
}

/// Holds a picture to the stored one; under UPDATE_SCREENS=1 it becomes the stored one.
pub fn hold(screen: &str, width: usize, rgb: &[u8]) {
    let (columns, got) = blocks(width, rgb);
    let file = stored(screen);
    if std::env::var_os("UPDATE_SCREENS").is_some() {
        return write(&file, columns, &got);
    }
    let want = read(&file);
    assert_eq!(want.len(), got.len(), "{screen} has another size than the stored picture");
    let differ = want.iter().zip(&got).filter(|(a, b)| a.abs_diff(**b) > LEVELS).count();
    let share = differ as f64 / got.len() as f64;
    eprintln!("{screen}: {:.1} % of blocks differ from the stored picture", 100.0 * share);
    let most = match screen {
        "5-theatre" | "6-run" | "7-graft" | "11-inside" => MOVING,
        "9-debrief" => COMING,
        _ => STILL,
    };
    assert!(
        share <= most,
        "{screen} looks otherwise than the stored picture in {:.1} % of its blocks. If that is wanted: UPDATE_SCREENS=1 cargo test desk::window",
        100.0 * share
    );
}

/// Mean grey of each block, and how many stand in a row.
fn blocks(width: usize, rgb: &[u8]) -> (usize, Vec<u8>) {
    let height = rgb.len() / 3 / width;
    let (columns, rows) = (width / BLOCK, height / BLOCK);
    let mean = |column: usize, row: usize| {
        let inside = (0..BLOCK * BLOCK).map(|i| (column * BLOCK + i % BLOCK, row * BLOCK + i / BLOCK));
        let sum: u32 = inside
            .flat_map(|(x, y)| &rgb[3 * (y * width + x)..3 * (y * width + x) + 3])
            .map(|v| u32::from(*v))
            .sum();
        (sum / (3 * BLOCK * BLOCK) as u32) as u8
    };
    let all = (0..rows * columns).map(|i| mean(i % columns, i / columns)).collect();
    (columns, all)
}

fn write(file: &Path, columns: usize, grey: &[u8]) {
    std::fs::create_dir_all(file.parent().unwrap()).unwrap();
    let out = std::io::BufWriter::new(std::fs::File::create(file).unwrap());
    let mut encoder = png::Encoder::new(out, columns as u32, (grey.len() / columns) as u32);
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::High);
    encoder.write_header().unwrap().write_image_data(grey).unwrap();
}

fn read(file: &Path) -> Vec<u8> {
    let missing = "no stored picture; UPDATE_SCREENS=1 cargo test desk::window draws it";
    let opened = std::fs::File::open(file).unwrap_or_else(|e| panic!("{}: {e}: {missing}", file.display()));
    let mut reader = png::Decoder::new(std::io::BufReader::new(opened)).read_info().unwrap();
    let mut grey = vec![0; reader.output_buffer_size().unwrap()];
    reader.next_frame(&mut grey).unwrap();
    grey
}

/// A grey picture's blocks are its grey; one with another panel is unlike it.
#[test]
fn blocks_are_means() {
    let rgb: Vec<u8> =
        (0..16 * 8).flat_map(|i| if i % 16 < 8 { [30, 60, 90] } else { [200, 200, 200] }).collect();
    assert_eq!(blocks(16, &rgb), (2, vec![60, 200]));
}
