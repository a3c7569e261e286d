//! The pictures in `docs/images/` are frames of the screen: a test fails when they no longer are.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/frames.rs"]
mod frames;
#[path = "support/scenes.rs"]
mod scenes;
mod support;
#[path = "support/svg.rs"]
mod svg;

use std::fs;
use std::path::PathBuf;

use overside::screen::Palette;

#[test]
fn the_pictures_are_what_the_screen_shows() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("docs/images");
    let renew = std::env::var_os("OVERSIDE_RENEW_PICTURES").is_some_and(|value| value == "1");
    let pictures = [
        ("casualty", "casualty", Palette::Dusk, (80, 24), "A casualty"),
        ("quiet", "quiet", Palette::Dusk, (80, 24), "A quiet watch"),
        ("test", "test", Palette::Dusk, (80, 24), "A self-test as it comes in"),
        ("casualty-night", "casualty", Palette::Night, (80, 24), "A casualty, night colours"),
        ("casualty-60x20", "casualty", Palette::Dusk, (60, 20), "A casualty on a small terminal"),
    ];
    for (file, scene, palette, size, title) in pictures {
        let mut stage = scenes::stage(scene);
        stage.screen.theme.palette = palette;
        let drawn = svg::svg(&frames::frame(&stage.screen, &stage.picture(), size), title);
        let path = folder.join(format!("{file}.svg"));
        if renew {
            fs::create_dir_all(&folder).unwrap();
            fs::write(&path, &drawn).unwrap();
        }
        assert!(
            fs::read_to_string(&path).is_ok_and(|kept| kept == drawn),
            "docs/images/{file}.svg is not what the screen shows. Renew it with \
             OVERSIDE_RENEW_PICTURES=1 cargo test --test pictures, and look at it"
        );
    }
}

/// Every scene in one palette, for looking at: `OVERSIDE_LOOK=folder cargo test --test pictures`.
#[test]
fn every_scene_can_be_looked_at() {
    let Some(folder) = std::env::var_os("OVERSIDE_LOOK").map(PathBuf::from) else { return };
    for scene in scenes::SCENES {
        let mut stage = (scene.stage)();
        for palette in [Palette::Day, Palette::Dusk, Palette::Night] {
            stage.screen.theme.palette = palette;
            for size in [(60, 20), (80, 24), (120, 40)] {
                let drawn =
                    svg::svg(&frames::frame(&stage.screen, &stage.picture(), size), scene.name);
                let name = format!("{}-{}-{}x{}.svg", scene.name, palette.name(), size.0, size.1);
                fs::write(folder.join(name), drawn).unwrap();
            }
        }
    }
}
