"""What was assumed or repaired for an answer, and what could not be seen, as sentences.

A code may carry details behind colons ("values-rejected:pressure_hpa:3") or a column before a fixed
ending ("cloud_cover_percent missing"). A code without a sentence is shown as it is, never swallowed.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from frostguard.advice.plan import PlanNote
from frostguard.report import measures
from frostguard.report.strain_words import strain_sentence
from frostguard.report.words import say, say_count


def note_sentences(codes: Iterable[str]) -> list[str]:
    """One sentence for each code, equal sentences once."""
    return list(dict.fromkeys(note_sentence(code) for code in codes))


def note_sentence(code: str) -> str:
    """The sentence of one code."""
    name, *details = code.split(":")
    sentence = (
        strain_sentence(name, details)
        or _done_in_part(name, details)
        or _nobody_comes(name, details)
        or _of_the_weather(name, details)
        or _of_the_answer(code)
    )
    return sentence or say("Also noted: {code}.", code=code.replace("_", " "))


def _done_in_part(name: str, details: list[str]) -> str | None:
    if len(details) != 3:
        return None
    label, done, alike = details
    match name:
        case PlanNote.SET_ASIDE.value:
            return say(
                "{label}: {done} of {alike} are done, and this is about the others. Look after those that are "
                "done as well where the others are worse off than they were then.",
                label=label,
                done=done,
                alike=alike,
            )
        case PlanNote.PART_READY.value:
            return say(
                "{label}: {done} of {alike} are prepared for the cold; all are reckoned as the others stand.",
                label=label,
                done=done,
                alike=alike,
            )
        case _:
            return None


def _of_the_weather(name: str, details: list[str]) -> str | None:
    detail = details[0] if details else ""
    match name:
        case "hours-missing":
            return _counted(
                detail,
                say("The forecast has gaps."),
                "The forecast lacks 1 hour.",
                "The forecast lacks {count} hours.",
            )
        case "head-missing":
            return say("The past weather begins later than the file does.")
        case "tail-missing":
            return say("The forecast ends earlier than it promises; later nights are not seen.")
        case "values-rejected":
            return say("Impossible values of {quantity} were left out.", quantity=quantity(detail))
        case "values-clamped" | "dew-point-clamped" | "gust-raised":
            return say("Slightly impossible values of the forecast were set right.")
        case "unit-in-doubt":
            return say(
                "This file is mild for the date, and nothing but its heading says that it is in Celsius. If it is in "
                "Fahrenheit, a hard frost is coming: look at a thermometer."
            )
        case "unit-refused":
            return say("{quantity}: left out, its unit is not known.", quantity=quantity(detail))
        case "members-dropped":
            return say("Parts of the forecast without temperatures were left out.")
        case "sea-cell":
            return say(
                "The forecast seems to be for water: days are hardly warmer than nights. Check the place in your "
                "garden file, and expect colder nights than are told here."
            )
        case "other-place":
            return say(
                "This weather is for a place {distance} km from your site. Check latitude and longitude in your garden "
                "file, and whether it is the right file.",
                distance=detail,
            )
        case "height-differs":
            return say("The forecast is for another height above the sea than your site's.")
        case "sky-or-wind-unknown":
            return say("Cloud or wind is not known for every night; those nights count as clear and calm.")
        case "store-unreadable":
            return say("The last kept forecast was damaged and is not used.")
        case "store-not-written":
            return say("This forecast could not be kept for later.")
        case _:
            return _stored(name, detail) or _of_the_services(name, details)


def _of_the_services(name: str, details: list[str]) -> str | None:
    service = service_name(details[0]) if details else ""
    match name:
        case "other-service":
            return say("{service} did not answer; the next service in your settings did.", service=service)
        case "services-differ":
            return _they_differ(service, details[1]) if len(details) > 1 else None
        case "history-of-other-service":
            return say("The past days come from an earlier answer of {service}.", service=service)
        case "columns-of-other-service":
            return say("What the possible forecasts leave out comes from {service}.", service=service)
        case "frozen-run":
            return say("{service} repeats an old forecast; it is not trusted.", service=service)
        case "service-deprecated":
            return say(
                "{service} says that it will soon stop answering in this way; look for a newer frostguard.",
                service=service,
            )
        case "worst-case":
            return say(
                "Nothing is known of the coming night. This is no forecast but a cautious guess for the date: "
                "look at a thermometer."
            )
        case "periods-rejected":
            return say("Parts of the forecast that cannot be read were left out.")
        case "typical-year":
            return say("This is a typical year, put on {year}; it is no forecast.", year=service)
        case _:
            return None


def _they_differ(service: str, difference_k: str) -> str:
    colder = difference_k.startswith("-")
    apart = difference_k.strip("+-")
    if colder:
        return say(
            "{service} expects tonight {apart} degrees (Celsius) colder than the forecast used here; both are "
            "taken to be possible.",
            service=service,
            apart=apart,
        )
    return say(
        "{service} expects tonight {apart} degrees (Celsius) milder than the forecast used here; both are "
        "taken to be possible.",
        service=service,
        apart=apart,
    )


def service_name(code: str) -> str:
    """A weather service as a person calls it."""
    names = {
        "open-meteo": "Open-Meteo",
        "open-meteo-ensemble": say("Open-Meteo (many possible forecasts)"),
        "open-meteo-spread": say("Open-Meteo (mean and spread)"),
        "met-norway": "MET Norway",
        "nws": say("US National Weather Service"),
        "bright-sky": "Bright Sky",
        "worst-case": say("no forecast, a cautious guess"),
        "file": say("a weather file"),
    }
    return names.get(code, code)


def _stored(name: str, detail: str) -> str | None:
    match name:
        case "stored-answer":
            return say("No new forecast could be fetched: this is the last one kept.")
        case "stored-answer-old":
            return say(
                "No new forecast could be fetched, and the last one kept is more than a day old. "
                "Look at a thermometer, and treat tender plants as if the night were colder."
            )
        case _:
            return None


def _nobody_comes(name: str, details: list[str]) -> str | None:
    if name != PlanNote.NOBODY_UNTIL.value or len(details) != 1:
        return None
    return say(
        "By your working hours nobody comes after today till the night of {day} is over: jobs, chances and losses are "
        "told for all nights till then.",
        day=measures.day_and_date(date.fromisoformat(details[0])),
    )


def _of_the_answer(code: str) -> str | None:
    for ending, missing in ((" partly missing", False), (" missing", True)):
        if code.endswith(ending):
            return _lacking(code.removesuffix(ending), whole=missing)
    sentences = {
        PlanNote.AFTER_DUSK.value: say(
            "Asked after sunset: heavy pots and watering are left out, they are not for the dark."
        ),
        PlanNote.BY_LAMP.value: say("Tonight's jobs fall after sunset: heavy pots and watering are left out."),
        PlanNote.NO_HANDS.value: say(
            "None of your working hours is left before this night, so no job is planned for it. Settings say "
            "when you can work."
        ),
        PlanNote.TIME_SHORT.value: say(
            "There is more work than time: what saves least for its minutes is left out."
        ),
        PlanNote.STOCK_ASSUMED.value: say(
            "Your garden file does not say what covers you have: fleece hoods, a roll of film and a bag of bark "
            "are taken as at hand. List yours under stock:."
        ),
        PlanNote.GUST_RECKONED.value: say("Gusts are not in the forecast; they were reckoned from the wind."),
        PlanNote.SUN_RECKONED.value: say("Sunshine is not in the forecast; it was reckoned from the cloud."),
        PlanNote.TUNED.value: say(
            "What your own thermometers have taught is used here; 'frostguard tune undo' takes it back."
        ),
        PlanNote.SURER.value: say(
            "As they have shown how this terrace differs from the forecast, its lowest air is taken as surer than "
            "before."
        ),
        PlanNote.SHORT_HISTORY.value: say(
            "Less than ten days of past weather are known: a big pot may still hold more cold than "
            "reckoned here."
        ),
    }
    return sentences.get(code)


def _lacking(column: str, *, whole: bool) -> str:
    if column == "humidity":
        return say("The forecast does not tell how damp the air is; a cautious value stands in.")
    if column in ("wind_speed_10m_m_s", "cloud_cover_percent"):
        if whole:
            return say(
                "The forecast does not tell {quantity}: little and much of it were both tried, and the "
                "colder result is told.",
                quantity=quantity(column),
            )
        return say(
            "The forecast does not always tell {quantity}: in those hours little and much of it were both "
            "tried, and the colder result is told.",
            quantity=quantity(column),
        )
    return say(
        "The forecast does not tell {quantity}; a cautious value stands in.", quantity=quantity(column)
    )


def quantity(column: str) -> str:
    """What a column of the weather table holds, as a person calls it."""
    names = {
        "air_temperature_c": say("the air temperature"),
        "dew_point_c": say("the dew point"),
        "relative_humidity_percent": say("the humidity"),
        "pressure_hpa": say("the air pressure"),
        "wind_speed_10m_m_s": say("the wind"),
        "wind_gust_10m_m_s": say("the gusts"),
        "wind_from_direction_deg": say("the wind's direction"),
        "cloud_cover_percent": say("the cloud"),
        "precipitation_mm": say("the rain"),
        "snowfall_cm": say("the snowfall"),
        "snow_depth_m": say("the snow depth"),
        "global_horizontal_w_m2": say("the sunshine"),
        "direct_normal_w_m2": say("the direct sun"),
        "diffuse_horizontal_w_m2": say("the sky's light"),
        "sky_longwave_w_m2": say("the sky's warmth"),
        "soil_temperature_0cm_c": say("the ground's temperature"),
        "soil_temperature_6cm_c": say("the ground's temperature"),
        "soil_temperature_18cm_c": say("the ground's temperature"),
        "air_temperature_spread_k": say("how sure the temperature is"),
        "service_difference_k": say("how far the services differ"),
    }
    return names.get(column, column.replace("_", " "))


def _counted(detail: str, uncounted: str, one: str, many: str) -> str:
    return say_count(one, many, int(detail)) if detail.isdecimal() else uncounted
