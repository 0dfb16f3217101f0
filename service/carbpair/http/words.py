"""Words for what the inspection schema and the case store name by code; marked for translation."""

from collections.abc import Mapping


def n_(message: str) -> str:
    """Mark a message for the catalogue without translating it yet."""
    return message


FEATURES: Mapping[str, str] = {
    "flange_holes": n_("Bolt holes in the air flange"),
    "hole_layout": n_("How the bolt holes lie"),
    "bowl_side": n_("Float bowl"),
    "mark_bearing_deg": n_("Bearing of the mark"),
    "mark_verdict": n_("Mark"),
    "chamber": n_("Chamber"),
    "filter_fitted": n_("Air filter"),
    "heat_shield": n_("Heat shield"),
    "return_spring": n_("Return spring"),
    "choke_linkage": n_("Choke linkage"),
    "tag": n_("Text on the tag"),
    "carb": n_("Carburettor drawn by hand"),
    "layout": n_("Layout of the float bowls"),
    "matched": n_("Same pattern on both"),
}
VALUES: Mapping[str, Mapping[str, str]] = {
    "hole_layout": {
        "side_by_side": n_("two, side by side"),
        "one_above_other": n_("two, one above the other"),
        "diagonal": n_("two, on a diagonal"),
        "one_above": n_("three, one above two"),
        "one_below": n_("three, one below two"),
        "one_aside": n_("three, one at a side"),
        "square": n_("four, square on its side"),
        "diamond": n_("four, square on its corner"),
    },
    "bowl_side": {
        "inboard": n_("inboard"),
        "outboard": n_("outboard"),
        "none": n_("none (integral)"),
    },
    "layout": {
        "inboard": n_("both inboard"),
        "outboard": n_("both outboard"),
        "same_side": n_("both on the same side"),
        "none": n_("none (integral)"),
        "mixed": n_("mixed"),
    },
    "mark_verdict": {"faces_intake": n_("faces the air intake"), "turned": n_("turned")},
    "chamber": {"piston": n_("piston dashpot"), "diaphragm": n_("diaphragm cover")},
    "filter_fitted": {"True": n_("fitted"), "False": n_("off")},
    "heat_shield": {"True": n_("fitted"), "False": n_("missing")},
    "matched": {"True": n_("yes"), "False": n_("no")},
    "carb": {"True": n_("read where it was drawn")},
    "return_spring": {
        "external": n_("external spring"),
        "spindle": n_("spring on the spindle"),
        "none_seen": n_("none seen"),
    },
    "choke_linkage": {
        "cable_jet": n_("cable pulls the jet"),
        "cam_lever": n_("cam and lever"),
        "automatic": n_("automatic"),
    },
}
STATUSES: Mapping[str, str] = {
    "seen": n_("seen"),
    "unsure": n_("unsure"),
    "not_visible": n_("not visible"),
}
REASONS: Mapping[str, str] = {
    "filter_fitted": n_("the air filter hides it"),
    "out_of_frame": n_("outside the picture"),
    "too_small": n_("too small in the picture"),
    "blurred": n_("blurred"),
    "occluded": n_("hidden by something"),
    "no_bowl_seen": n_("no bowl at either side"),
    "edge_on": n_("seen edge-on"),
    "mirrored": n_("the photo is mirrored"),
    "other_carb_not_seen": n_("the other one was not seen"),
    "low_confidence": n_("not clear enough"),
    "carbs_differ": n_("the two differ"),
    "corrected_by_hand": n_("corrected by hand"),
    "facing_away": n_("its flange faces away"),
    "holes_do_not_form_pattern": n_("the holes found do not form a pattern"),
    "holes_unconfirmed": n_("the holes found do not confirm the count"),
    "filter_unclear": n_("unclear whether the filter is fitted"),
    "near_tolerance": n_("close to the limit"),
    "not_photographed": n_("no photo shows it"),
    "nothing_to_compare": n_("nothing to compare with"),
    "see_each_carb": n_("see each carburettor"),
    "mark_not_in_view": n_("the mark is not in view"),
    "photos_disagree": n_("the photos disagree"),
    "changed_between_photos": n_("changed between two photos"),
    "order_unclear": n_("unclear which is left and which right"),
    "not_all_features_seen": n_("not all features were seen"),
    "carbs_point_different_ways": n_("the two point different ways"),
    "more_than_two_carbs": n_("more than two were found"),
    "none_found": n_("none was found"),
}
STATES: Mapping[str, str] = {
    "awaiting_photos": n_("Waiting for photos"),
    "analysing": n_("Being analysed"),
    "ready": n_("To review"),
    "failed": n_("Analysis failed"),
    "closed": n_("Closed"),
}
PURPOSES: Mapping[str, str] = {
    "workshop": n_("Workshop job"),
    "purchase": n_("Advice before buying"),
}
VIEWS: Mapping[str, str] = {
    "intake": n_("Air-intake side"),
    "top": n_("From above"),
    "left": n_("Left carburettor"),
    "right": n_("Right carburettor"),
    "tag": n_("Tag"),
    "other": n_("Other"),
}
PHASES: Mapping[str, str] = {"before": n_("before the work"), "after": n_("after reassembly")}
POSITIONS: Mapping[str, str] = {"left": n_("Left"), "right": n_("Right"), "pair": n_("Pair")}
OUTCOMES: Mapping[str, str] = {
    "open": n_("open"),
    "good": n_("good"),
    "bad": n_("not good"),
    "skipped": n_("left out"),
}
SEVERITIES: Mapping[str, str] = {
    "critical": n_("critical"),
    "major": n_("major"),
    "minor": n_("minor"),
}
RESULTS: Mapping[str, str] = {
    "pass": n_("pass"),
    "fail": n_("fail"),
    "cannot_see": n_("cannot see"),
}
ACTIONS: Mapping[str, str] = {
    "case_created": n_("opened the case"),
    "case_changed": n_("changed the case"),
    "case_deleted": n_("deleted the case"),
    "photo_added": n_("added a photo"),
    "photo_deleted": n_("deleted a photo"),
    "link_created": n_("made a customer link"),
    "link_revoked": n_("ended a customer link"),
    "analysis_requested": n_("asked for a new analysis"),
    "analysis_done": n_("finished the analysis"),
    "analysis_failed": n_("could not analyse the photos"),
    "feature_corrected": n_("corrected a feature"),
    "correction_withdrawn": n_("took a correction back"),
    "checklist_ticked": n_("ticked the checklist"),
    "report_made": n_("made the report"),
}
EVIDENCE: Mapping[str, str] = {
    "bolt": n_("bolt hole"),
    "vent": n_("vent, not counted"),
    "mark": n_("mark"),
    "throat": n_("throat"),
    "rim": n_("rim of the cover"),
}
QUALITY: Mapping[str, str] = {
    "blur": n_("Blurred: hold the phone with both hands and tap the carburettor to focus."),
    "too_dark": n_("Too dark: open the bonnet wide, add a lamp from the side."),
    "too_bright": n_("Too bright: shade it from the sun."),
    "glare": n_("Glare: switch the flash off, move the lamp to the side."),
    "too_small": n_("Too small: send the original photo, not a preview or screenshot."),
}
# Parts that every photo shows too small (part_width.SmallPart), by part and side.
CLOSER: Mapping[str, str] = {
    "throat_left": n_(
        "Move closer to the left carburettor: the opening in its air flange is %(width)d pixels "
        "wide in the best photo, %(needed)d are needed to count the holes around it."
    ),
    "throat_right": n_(
        "Move closer to the right carburettor: the opening in its air flange is %(width)d pixels "
        "wide in the best photo, %(needed)d are needed to count the holes around it."
    ),
    "rim_left": n_(
        "Move closer to the left carburettor: the rim of its cover is %(width)d pixels wide in "
        "the best photo, %(needed)d are needed to see the mark on it."
    ),
    "rim_right": n_(
        "Move closer to the right carburettor: the rim of its cover is %(width)d pixels wide in "
        "the best photo, %(needed)d are needed to see the mark on it."
    ),
}


def value_label(feature: str, value: object) -> str:
    """Return the word for a value, untranslated; numbers stay as they are, None is a dash."""
    if value is None:
        return "–"
    known = VALUES.get(feature, {}).get(str(value))
    if known is not None:
        return known
    if feature == "mark_bearing_deg" and isinstance(value, int | float):
        return f"{value:+.0f}°" if round(value) else "0°"
    return str(value)


def word(table: str, key: str) -> str:
    """Return the word for a code of one of the tables above; an unknown code in plain letters."""
    known: Mapping[str, str] = globals()[table]
    return known.get(key, key.replace("_", " "))
