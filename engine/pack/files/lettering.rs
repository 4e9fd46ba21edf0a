//! `lettering.toml`.

use super::{read_all, table};
use crate::diagnostic::Diagnostic;
use crate::pack::reader::Item;
use crate::pack::text::Lettering;

pub fn lettering_file(item: &Item<'_>, out: &mut Vec<Diagnostic>) -> Lettering {
    let devices = item.words("devices", out);
    let companions = item.words("companions", out);
    let alike = read_all(
        item.items("alike", "devices that look alike", out),
        out,
        |entry, out| Some(entry.words("devices", out)),
    );
    let unknown = item
        .required_item(
            "unknown",
            "how long a lettering nobody knows may be: shortest and longest",
            out,
        )
        .and_then(|unknown| {
            let shortest = unknown.number("shortest", out);
            let longest = unknown.number("longest", out);
            for (key, value) in [("shortest", &shortest), ("longest", &longest)] {
                if value.is_none() {
                    unknown.missing(key, "a whole number of characters", out);
                }
            }
            unknown.finish(out);
            shortest.zip(longest)
        });
    let quality = table(item, "quality", "how the strike looks, by strike", out);
    let letters = table(
        item,
        "letters",
        "what becomes of a letter, by step and quality",
        out,
    );
    let look_alikes = item
        .item("look_alikes", "what a misread letter is taken for", out)
        .map(|look_alikes| {
            let read = look_alikes.table(out);
            look_alikes.finish(out);
            read
        });
    let seen_of_device = table(
        item,
        "seen_of_device",
        "what is noted of a device, by what the mark has and quality",
        out,
    );
    item.finish(out);
    Lettering {
        devices,
        companions,
        alike,
        unknown,
        quality,
        letters,
        look_alikes,
        seen_of_device,
        span: item.span,
    }
}
