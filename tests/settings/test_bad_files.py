# ruff: noqa: E501 (a sentence stands on its line as it is printed)
"""Each file under bad/ holds one mistake, or several where its name says so, and gets exactly these findings."""

from pathlib import Path

import pytest

from agent.settings import ConfigError, load

BAD = Path(__file__).parent / "bad"

# Not text, or not YAML.
TEXT = {
    "empty": [
        "empty.yaml:1:1: found nothing; right would be a mapping",
    ],
    "only-a-comment": [
        "only-a-comment.yaml:1:1: found nothing; right would be a mapping",
    ],
    "not-utf-8": [
        "not-utf-8.yaml:1:22: the byte 0xfc is not UTF-8; save the file as UTF-8 text",
    ],
    "control-character": [
        "control-character.yaml:1:21: the character #x01 does not belong in a text file",
    ],
    "tab": [
        "tab.yaml:9:1: not YAML: found character '\\t' that cannot start any token; indent with spaces, not with tabs",
    ],
    "bracket-left-open": [
        "bracket-left-open.yaml:14:23: not YAML: while parsing a flow mapping (line 13), expected ',' or '}', but got ':'",
    ],
    "quote-left-open": [
        "quote-left-open.yaml:24:1: not YAML: while scanning a quoted scalar (line 4), found unexpected end of stream",
    ],
    "colon-in-a-value": [
        "colon-in-a-value.yaml:6:11: not YAML: mapping values are not allowed here; a text that holds ': ' stands in quotes",
    ],
    "two-documents": [
        "two-documents.yaml:7:1: not YAML: expected a single document in the stream (line 1), but found another document",
    ],
    "unknown-alias": [
        "unknown-alias.yaml:14:25: not YAML: found undefined alias 'thermistor'",
    ],
    "anchor-twice": [
        "anchor-twice.yaml:14:25: not YAML: found duplicate anchor 'pipe'; first occurrence (line 13), second occurrence",
    ],
    "tag": [
        "tag.yaml:2:14: the tag !!int has no meaning here; leave it out",
    ],
    "list-as-key": [
        "list-as-key.yaml:12:23: a key is one word, not a list or a mapping",
    ],
    "nested-too-deeply": [
        "nested-too-deeply.yaml:1:1: nested too deeply to be read",
    ],
}

# Keys that stand twice, aliases and merges: the place is the one where the value was written.
TWICE_AND_MERGED = {
    "key-twice": [
        "key-twice.yaml:11:5: 'every_s' stands twice in this mapping; one would be lost",
    ],
    "module-twice": [
        "module-twice.yaml:24:7: 'n1' stands twice in this mapping; one would be lost",
    ],
    "value-twice": [
        "value-twice.yaml:12:55: '1.0' stands twice in this mapping, first as '1'; one would be lost",
    ],
    "value-twice-as-text": [
        "value-twice-as-text.yaml:12:55: '2' stands twice in this mapping; one would be lost",
    ],
    "merge-of-several": [
        "merge-of-several.yaml:14:26: << takes one mapping, such as *NAME; of several it is not agreed which one wins",
    ],
    "merged-mistake": [
        "merged-mistake.yaml:13:50: found -0.5; right would be greater than 0",
    ],
    "mistake-over-a-merge": [
        "mistake-over-a-merge.yaml:16:19: found -0.5; right would be greater than 0",
    ],
    "mistake-behind-an-alias": [
        "mistake-behind-an-alias.yaml:13:34: 'kPa' is no unit of temperature; right would be one of degC, Cel, K, degF",
    ],
}

# Values of another kind or size. A word such as `yes` is a word.
TYPES = {
    "list-at-the-top": [
        "list-at-the-top.yaml:1:1: found a list; right would be a mapping",
    ],
    "section-without-content": [
        "section-without-content.yaml:4:7: found nothing; right would be a mapping",
    ],
    "section-as-text": [
        "section-as-text.yaml:5:9: found 'plant'; right would be a mapping",
    ],
    "number-as-text": [
        "number-as-text.yaml:9:14: found '30'; right would be a number",
    ],
    "word-for-a-number": [
        "word-for-a-number.yaml:9:14: found 'on'; right would be a number",
    ],
    "boolean-for-a-number": [
        "boolean-for-a-number.yaml:2:14: found true; right would be a number",
    ],
    "word-for-a-boolean": [
        "word-for-a-boolean.yaml:11:16: found 'yes'; right would be true or false",
    ],
    "leading-zero": [
        "leading-zero.yaml:9:14: found '030'; right would be a number",
    ],
    "number-for-text": [
        "number-for-text.yaml:21:18: found 410; right would be text",
    ],
    "fraction-for-a-whole-number": [
        "fraction-for-a-whole-number.yaml:5:41: found 30.5; right would be a whole number",
    ],
    "port-out-of-range": [
        "port-out-of-range.yaml:5:34: found 70000; right would be less than or equal to 65535",
    ],
    "infinite-number": [
        "infinite-number.yaml:15:72: found inf; right would be a finite number",
    ],
    "number-too-long": [
        "number-too-long.yaml:2:14: found '9999999999999999999999999999999999999999999999999999999999999999999999999999999...; right would be a number",
    ],
    "shadow-and-latching": [
        "shadow-and-latching.yaml:6:23: found -1; right would be greater than or equal to 0",
        "shadow-and-latching.yaml:7:36: found 1; right would be true or false",
    ],
    "negative-accuracy": [
        "negative-accuracy.yaml:15:72: found -10; right would be greater than 0",
    ],
    "accuracy-of-zero": [
        "accuracy-of-zero.yaml:15:72: found 0; right would be greater than 0",
    ],
    "readings-kept-too-short": [
        "readings-kept-too-short.yaml:4:61: found 30; right would be greater than or equal to 62",
    ],
    "elevation-out-of-range": [
        "elevation-out-of-range.yaml:2:14: found 25000; right would be less than or equal to 6000",
    ],
    "name-in-capitals": [
        "name-in-capitals.yaml:1:7: found 'Hill House'; right would be a name of small letters, digits, - and _",
    ],
    "module-name-in-capitals": [
        "module-name-in-capitals.yaml:23:7: found the key 'N1'; right would be a name of small letters, digits, - and _",
    ],
    "number-as-name": [
        "number-as-name.yaml:8:3: found the key 7; right would be a name of small letters, digits, - and _",
    ],
    "no-modules": [
        "no-modules.yaml:22:5: found an empty mapping; right would be at least one entry",
    ],
    "point-without-a-name": [
        "point-without-a-name.yaml:13:56: found ''; right would be text that is not empty",
    ],
}

# Keys that are missing or unknown.
KEYS = {
    "missing-section": [
        "missing-section.yaml:1:1: store is missing",
    ],
    "missing-key": [
        "missing-key.yaml:8:3: max_age_s is missing",
    ],
    "missing-refrigerant": [
        "missing-refrigerant.yaml:20:3: refrigerant is missing",
    ],
    "unknown-section": [
        "unknown-section.yaml:1:1: systems is missing",
        "unknown-section.yaml:19:1: unknown key 'system'; did you mean 'systems'?",
    ],
    "unknown-key": [
        "unknown-key.yaml:2:1: unknown key 'elevation'; did you mean 'elevation_m'?",
    ],
    "unknown-key-of-a-signal": [
        "unknown-key-of-a-signal.yaml:15:62: unknown key 'accurracy'; did you mean 'accuracy'?",
    ],
    "unknown-key-like-no-other": [
        "unknown-key-like-no-other.yaml:23:60: unknown key 'colour'; there are configured_probe, layout, pressure_loss_kpa, runs_above_a, runs_above_hz, signal_set, template, topic, unknown_loss_kpa",
    ],
    "unknown-key-of-a-limit": [
        "unknown-key-of-a-limit.yaml:6:26: unknown key 'limit'; did you mean 'limit_k'?",
    ],
    "number-as-key": [
        "number-as-key.yaml:2:1: unknown key 1; there are alarms, assess, broker, display, elevation_m, http, layouts, limits, notices, shared, signal_sets, site, store, systems, templates",
    ],
}

# Names of things that are not there.
NAMES = {
    "limit-in-degc-of-a-superheat": [
        "limit-in-degc-of-a-superheat.yaml:6:26: superheat-low has no limit_c; right would be limit_k, in K",
    ],
    "limit-in-k-of-a-temperature": [
        "limit-in-k-of-a-temperature.yaml:6:39: discharge-temperature-high has no limit_k; right would be limit_c and urgent_c, in degC",
    ],
    "urgent-below-the-limit": [
        "urgent-below-the-limit.yaml:6:63: urgent_c 108 lies below limit_c 110; right would be the other way round",
    ],
    "unknown-layout": [
        "unknown-layout.yaml:23:20: no layout file ../../../config/layouts/two-pipe-twin-lat.yaml; did you mean 'two-pipe-twin-late'?",
    ],
    "unknown-layout-of-two-modules": [
        "unknown-layout-of-two-modules.yaml:23:20: no layout file ../../../config/layouts/two-pipe-twin-lat.yaml; did you mean 'two-pipe-twin-late'?",
        "unknown-layout-of-two-modules.yaml:24:20: no layout file ../../../config/layouts/two-pipe-twin-lat.yaml; did you mean 'two-pipe-twin-late'?",
    ],
    "no-folder-of-layouts": [
        "no-folder-of-layouts.yaml:23:20: no layout file nowhere/two-pipe-twin-late.yaml; there is none: copy config/layouts of Dewline there, or name that folder by `layouts:`",
    ],
    "unknown-signal-set": [
        "unknown-signal-set.yaml:23:52: no signal set 'poled'; did you mean 'polled'?",
    ],
    "unknown-refrigerant": [
        "unknown-refrigerant.yaml:21:18: no refrigerant 'R410A'; did you mean 'R-410A'?",
    ],
    "unknown-signal": [
        "unknown-signal.yaml:13:7: layout two-pipe-twin-late has no place for signal 'suction_pip'; did you mean 'suction_pipe'?",
    ],
    "signal-of-another-layout": [
        "signal-of-another-layout.yaml:14:7: layout two-pipe-twin-late has no place for signal 'accumulator_outlet'; there are bypass_valve, compressor_1_current, compressor_1_speed, compressor_2_current, compressor_2_speed, compressor_inlet, defrost, discharge_1, discharge_2, discharge_pressure, indoor_expansion, liquid_line, mode, oil_recovery, outdoor_air, outdoor_coil_gas, outdoor_expansion, outdoor_fan, outdoor_fan_share, outdoor_fan_speed, reversing_valve, suction_pipe, suction_pressure, supervisor_superheat",
    ],
    "unknown-mode": [
        "unknown-mode.yaml:12:34: a mode is never 'cool'; did you mean 'cooling'?",
    ],
    "mode-in-capitals": [
        "mode-in-capitals.yaml:12:26: a mode is never 'Off'; did you mean 'off'?",
    ],
    "unknown-state-of-a-valve": [
        "unknown-state-of-a-valve.yaml:17:34: a valve is never 'closed'; there are open, shut",
    ],
    "unknown-probe": [
        "unknown-probe.yaml:23:78: layout two-pipe-twin-late has no suction probe 'compressor_inlett'; did you mean 'compressor_inlet'?",
    ],
    "loss-at-unknown-probe": [
        "loss-at-unknown-probe.yaml:23:80: layout two-pipe-twin-late has no suction probe 'suction'; did you mean 'suction_pipe'?",
    ],
    "unknown-alarm": [
        "unknown-alarm.yaml:6:10: no alarm 'superheat-lo'; did you mean 'superheat-low'?",
    ],
}

# What a signal says of its instrument.
SIGNALS = {
    "unknown-unit": [
        "unknown-unit.yaml:15:32: 'psig' is no unit of pressure; right would be one of Pa, hPa, kPa, MPa, bar, psi, kgf/cm2",
    ],
    "unit-of-another-dimension": [
        "unit-of-another-dimension.yaml:13:28: 'kPa' is no unit of temperature; right would be one of degC, Cel, K, degF",
    ],
    "missing-unit": [
        "missing-unit.yaml:16:7: unit is missing; right would be one of Hz, 1/s, 1/min",
    ],
    "missing-accuracy": [
        "missing-accuracy.yaml:13:7: accuracy is missing; state the instrument's limit of error in the signal's unit",
    ],
    "missing-reference": [
        "missing-reference.yaml:15:7: reference is missing; right would be absolute, gauge-vented or gauge-sealed",
    ],
    "unknown-reference": [
        "unknown-reference.yaml:15:48: found 'gauge'; right would be 'absolute', 'gauge-vented' or 'gauge-sealed'",
    ],
    "vented-gauge-without-elevation": [
        "vented-gauge-without-elevation.yaml:14:48: a vented gauge needs the site's elevation; state elevation_m beside site",
    ],
    "missing-values-of-the-mode": [
        "missing-values-of-the-mode.yaml:12:7: values is missing; it says which mode each value of the point means",
    ],
    "values-without-content": [
        "values-without-content.yaml:12:14: found an empty mapping; right would be at least one entry",
    ],
    "missing-mode": [
        "missing-mode.yaml:11:5: signal mode is missing, and no reversing_valve tells it either; without one of them layout two-pipe-twin-late can judge nothing",
    ],
    "missing-suction-pressure": [
        "missing-suction-pressure.yaml:11:5: signal suction_pressure is missing; without it layout two-pipe-twin-late can judge nothing",
    ],
    "unit-of-a-valve": [
        "unit-of-a-valve.yaml:17:22: a valve has no unit; leave it out",
    ],
    "values-of-a-temperature": [
        "values-of-a-temperature.yaml:13:49: a temperature has no values; leave it out",
    ],
    "reference-of-a-temperature": [
        "reference-of-a-temperature.yaml:13:49: a temperature has no reference; leave it out",
    ],
    "sealed-at-of-a-vented-gauge": [
        "sealed-at-of-a-vented-gauge.yaml:15:62: the reference is gauge-vented; only a gauge-sealed one has sealed_at_kpa",
    ],
    "sealed-at-in-another-unit": [
        "sealed-at-in-another-unit.yaml:15:77: found 14.7; right would be greater than or equal to 50",
    ],
    "missing-values-of-a-coil-valve": [
        "missing-values-of-a-coil-valve.yaml:17:7: values is missing; it says which of evaporator, condenser, idle each value means",
    ],
    "role-of-an-inlet": [
        "role-of-an-inlet.yaml:17:34: a valve is never 'idle'; there are open, shut",
    ],
    "unit-of-an-opening": [
        "unit-of-an-opening.yaml:17:31: 'degC' is no unit of ratio; right would be one of /, %, percent",
    ],
    "unknown-role-of-a-coil": [
        "unknown-role-of-a-coil.yaml:17:46: a coil valve is never 'open'; there are condenser, evaporator, idle",
    ],
    "shorter-lived-than-reported": [
        "shorter-lived-than-reported.yaml:10:16: max_age_s 120 is shorter than every_s 300: between two reports the value would be missing",
    ],
    "signal-shorter-lived-than-reported": [
        "signal-shorter-lived-than-reported.yaml:13:7: max_age_s 120 is shorter than every_s 600: between two reports the value would be missing",
    ],
}

# A value belongs to one signal of one module, and comes in where the agent listens.
TOPICS = {
    "point-twice": [
        "point-twice.yaml:14:33: point 'T7' is signal suction_pipe already; a point is one signal",
    ],
    "point-is-another-signal": [
        "point-is-another-signal.yaml:14:7: point 'compressor_inlet' is signal suction_pipe already; a point is one signal",
    ],
    "topic-twice": [
        "topic-twice.yaml:24:19: mode on topic plant/hill-house/north/n1 belongs to hill-house/north/n1 already; state another topic",
    ],
    "topic-with-wildcard": [
        "topic-with-wildcard.yaml:23:67: found 'plant/+/n1'; right would be a topic without + and #",
    ],
    "telemetry-with-wildcard": [
        "telemetry-with-wildcard.yaml:5:21: found 'plant/#'; right would be a topic without + and #, and without / at its end",
    ],
    "telemetry-with-slash": [
        "telemetry-with-slash.yaml:5:21: found 'plant/'; right would be a topic without + and #, and without / at its end",
    ],
    "telemetry-where-the-agent-publishes": [
        "telemetry-where-the-agent-publishes.yaml:23:7: topic dewline/hill-house/north/n1 lies under broker.prefix, where the agent hears nothing",
    ],
}

# Anything but a file of SQLite; a password is not repeated.
STORE = {
    "store-of-another-kind": [
        "store-of-another-kind.yaml:4:14: found a URL that begins with 'postgresql'; right would be sqlite:///PATH, with four slashes for an absolute path",
    ],
    "store-with-two-slashes": [
        "store-with-two-slashes.yaml:4:14: found 'sqlite://hill-house.db'; right would be sqlite:///PATH, with four slashes for an absolute path",
    ],
    "store-in-memory": [
        "store-in-memory.yaml:4:14: found 'sqlite:///:memory:'; right would be sqlite:///PATH, with four slashes for an absolute path",
    ],
    "store-as-a-path": [
        "store-as-a-path.yaml:4:14: found a URL that begins with 'hill-house.db'; right would be sqlite:///PATH, with four slashes for an absolute path",
    ],
    "store-without-a-file": [
        "store-without-a-file.yaml:4:14: found 'sqlite:///'; right would be sqlite:///PATH, with four slashes for an absolute path",
    ],
}

# How payloads are read, and which values say that there is none.
PAYLOADS = {
    "payload-unknown": [
        "payload-unknown.yaml:11:14: found 'xml'; right would be 'senml', 'json' or 'scalar'",
    ],
    "pointer-without-slash": [
        "pointer-without-slash.yaml:14:67: 'suction/pipe' is no JSON Pointer; right would be '/suction/pipe'",
    ],
    "pointer-with-another-escape": [
        "pointer-with-another-escape.yaml:14:67: '/suction~2pipe' is no JSON Pointer; ~ is written ~0 there, and / in a name ~1",
    ],
    "pointer-twice": [
        "pointer-twice.yaml:15:7: point '/compressor_inlet' is signal suction_pipe already; a point is one signal",
    ],
    "time-of-senml": [
        "time-of-senml.yaml:11:5: the payload is senml, where a record states its own; leave it out",
    ],
    "time-of-scalars": [
        "time-of-scalars.yaml:12:5: the payload is scalar, where a bare value has none but its arrival; leave it out",
    ],
    "time-without-slash": [
        "time-without-slash.yaml:12:11: 'time' is no JSON Pointer; right would be '/time'",
    ],
    "time-without-content": [
        "time-without-content.yaml:12:11: found ''; right would be text that is not empty",
    ],
    "scalar-point-with-wildcard": [
        "scalar-point-with-wildcard.yaml:14:67: 'pipes/+' cannot follow the module's topic; right would be levels without + and #, such as temperatures/suction",
    ],
    "scalar-point-with-empty-level": [
        "scalar-point-with-empty-level.yaml:14:67: '/pipes/suction' cannot follow the module's topic; right would be levels without + and #, such as temperatures/suction",
    ],
    "scalar-on-another-s-topic": [
        "scalar-on-another-s-topic.yaml:32:67: topic plant/hill-house/north/n1 is scalar here and senml for hill-house/north/n1; state another topic",
    ],
    "scalar-under-the-prefix": [
        "scalar-under-the-prefix.yaml:24:7: topic plant/hill-house/north/n1/mode lies under broker.prefix, where the agent hears nothing",
    ],
    "topic-of-two-payloads": [
        "topic-of-two-payloads.yaml:32:67: topic plant/hill-house/north/n1 is json here and senml for hill-house/north/n1; state another topic",
    ],
    "sentinels-as-a-number": [
        "sentinels-as-a-number.yaml:11:16: found -999; right would be a valid list",
    ],
    "sentinels-as-lists": [
        "sentinels-as-lists.yaml:11:23: found a list; right would be a number of up to 63 bits or a word",
    ],
    "sentinel-as-a-boolean": [
        "sentinel-as-a-boolean.yaml:13:72: found true; right would be a number of up to 63 bits or a word",
    ],
    "sentinel-that-means-a-mode": [
        "sentinel-that-means-a-mode.yaml:13:46: 2 means heating and is a sentinel too; right would be one of the two",
    ],
}

# The broker's certificates. A key itself, put where the name of its file belongs, is not shown.
BROKER = {
    "certificate-without-a-key": [
        "certificate-without-a-key.yaml:5:1: found a mapping; right would be a broker with cert_file and key_file, both or neither",
    ],
    "key-without-a-certificate": [
        "key-without-a-certificate.yaml:5:1: found a mapping; right would be a broker with cert_file and key_file, both or neither",
    ],
    "certificate-without-tls": [
        "certificate-without-tls.yaml:5:1: found a mapping; right would be a broker with ca_file too where it has cert_file",
    ],
    "key-password-without-a-key": [
        "key-password-without-a-key.yaml:5:1: found a mapping; right would be a broker with key_file where it has a key password",
    ],
    "key-in-place-of-its-file": [
        "key-in-place-of-its-file.yaml:5:77: found '-----BEGIN...'; right would be the path of a file",
    ],
    "ca-file-without-a-name": [
        "ca-file-without-a-name.yaml:5:37: found ''; right would be text that is not empty",
    ],
}

# Who may read. Off this machine only with certificate and token; what may be a secret is not shown.
HTTP = {
    "http-beyond-without-a-certificate": [
        "http-beyond-without-a-certificate.yaml:6:14: other machines may reach ::; right would be 127.0.0.1, or cert_file with key_file too",
    ],
    "http-beyond-without-a-token": [
        "http-beyond-without-a-token.yaml:6:66: other machines may reach hill-house.example; right would be 127.0.0.1, or token_env or token_file too",
    ],
    "http-beyond-without-anything": [
        "http-beyond-without-anything.yaml:6:14: other machines may reach 0.0.0.0; right would be 127.0.0.1, or cert_file with key_file and token_env or token_file too",
    ],
    "http-host-as-a-url": [
        "http-host-as-a-url.yaml:6:14: found 'https://...'; right would be a name or an address, without a port",
    ],
    "http-host-with-a-port": [
        "http-host-with-a-port.yaml:6:14: found '127.0.0.1:9464'; right would be a name or an address, without a port",
    ],
    "http-key-in-place-of-its-file": [
        "http-key-in-place-of-its-file.yaml:6:39: found '-----BEGIN...'; right would be the path of a file",
    ],
    "http-public-url-with-a-password": [
        "http-public-url-with-a-password.yaml:6:20: found 'https://...'; right would be an address without user and password",
    ],
    "http-public-url-without-a-scheme": [
        "http-public-url-without-a-scheme.yaml:6:20: found 'hill-house.example'; right would be an address such as https://HOST:PORT",
    ],
    "http-token-for-a-variable": [
        "http-token-for-a-variable.yaml:6:19: found a value that is not shown; right would be the name of an environment variable",
    ],
    "http-token-itself": [
        "http-token-itself.yaml:6:8: unknown key 'token'; did you mean 'token_env'?",
    ],
    "http-two-tokens": [
        "http-two-tokens.yaml:6:1: found a mapping; right would be token_env or token_file, not both",
    ],
    "http-without-a-key": [
        "http-without-a-key.yaml:6:1: found a mapping; right would be http with cert_file and key_file, both or neither",
    ],
    "metrics-as-it-was": [
        "metrics-as-it-was.yaml:6:1: metrics is called http now; right would be http with the same host and port, and where other machines reach it cert_file, key_file and token_env or token_file too",
    ],
}

# Who is told. What may be a URL is not shown, for it may hold a password.
NOTICES = {
    "route-without-a-url": [
        "route-without-a-url.yaml:6:20: found a mapping; right would be a route with exactly one of url, url_env and url_file",
    ],
    "route-with-two-urls": [
        "route-with-two-urls.yaml:6:20: found a mapping; right would be a route with exactly one of url, url_env and url_file",
    ],
    "route-twice": [
        "route-twice.yaml:6:11: found a list; right would be routes with a name each, not 'crew' twice",
    ],
    "route-as-a-url": [
        "route-as-a-url.yaml:6:20: found 'mailto://...'; right would be a mapping",
    ],
    "routes-as-a-url": [
        "routes-as-a-url.yaml:6:19: found 'mailto://...'; right would be a valid list",
    ],
    "notices-as-a-url": [
        "notices-as-a-url.yaml:6:10: found 'mailto://...'; right would be a mapping",
    ],
    "url-as-the-name-of-a-route": [
        "url-as-the-name-of-a-route.yaml:6:27: found 'mailto://...'; right would be a name of small letters, digits, - and _",
    ],
    "url-as-a-variable": [
        "url-as-a-variable.yaml:6:42: found 'mailto://...'; right would be the name of an environment variable",
    ],
    "url-as-a-file": [
        "url-as-a-file.yaml:6:43: found 'mailto://...'; right would be an absolute path",
    ],
    "url-under-an-unknown-key": [
        "url-under-an-unknown-key.yaml:6:33: unknown key 'ulr'; did you mean 'url'?",
    ],
    "url-as-a-list": [
        "url-as-a-list.yaml:6:33: found a list; right would be text",
    ],
    "url-without-content": [
        "url-without-content.yaml:6:38: found ''; right would be text that is not empty",
    ],
    "variable-with-a-space": [
        "variable-with-a-space.yaml:6:42: found 'CREW URL'; right would be the name of an environment variable",
    ],
    "url-file-without-its-folder": [
        "url-file-without-its-folder.yaml:6:43: found 'secrets/crew'; right would be an absolute path",
    ],
    "quiet-at-night": [
        "quiet-at-night.yaml:6:59: found 'night'; right would be a mapping",
    ],
    "quiet-without-an-end": [
        "quiet-without-an-end.yaml:6:52: to is missing",
    ],
    "quiet-of-no-length": [
        "quiet-of-no-length.yaml:6:52: found a mapping; right would be quiet hours that begin and end at different times",
    ],
    "quiet-at-25": [
        "quiet-at-25.yaml:6:66: found '25:00'; right would be a time of day such as 22:00",
    ],
    "quiet-begins": [
        "quiet-begins.yaml:6:52: from is missing",
        "quiet-begins.yaml:6:60: unknown key 'begins'; there are from, let_through, to, zone",
    ],
    "quiet-in-no-zone": [
        "quiet-in-no-zone.yaml:6:94: found 'Atlantis'; right would be an IANA time zone such as Europe/Berlin",
    ],
    "quiet-lets-urgent-through": [
        "quiet-lets-urgent-through.yaml:6:102: found 'urgent'; right would be 'high', 'medium' or 'low'",
    ],
    "repeat-for-ever": [
        "repeat-for-ever.yaml:6:26: found 1000; right would be less than or equal to 100",
    ],
    "repeat-every-second": [
        "repeat-every-second.yaml:6:29: found 0; right would be greater than or equal to 0.1",
    ],
    "alertmanager-without-a-url": [
        "alertmanager-without-a-url.yaml:6:11: url is missing",
    ],
    "alertmanager-by-mail": [
        "alertmanager-by-mail.yaml:6:31: found 'mailto://...'; right would be an address such as https://HOST:PORT",
    ],
    "alertmanager-with-its-password": [
        "alertmanager-with-its-password.yaml:6:31: found 'https://...'; right would be an address without user and password",
    ],
    "alertmanager-too-seldom": [
        "alertmanager-too-seldom.yaml:6:65: found 3600; right would be less than or equal to 180",
    ],
    "alertmanager-with-two-secrets": [
        "alertmanager-with-two-secrets.yaml:6:11: found a mapping; right would be at most one of password_env, password_file, token_env and token_file",
    ],
    "alertmanager-password-of-nobody": [
        "alertmanager-password-of-nobody.yaml:6:11: found a mapping; right would be username with password_env or password_file, both or neither",
    ],
    "alertmanager-secret-in-place-of-its-variable": [
        "alertmanager-secret-in-place-of-its-variable.yaml:6:67: found a value that is not shown; right would be the name of an environment variable",
    ],
    "route-named-alertmanager": [
        "route-named-alertmanager.yaml:6:1: found a mapping; right would be another name for the route alertmanager, which metrics use",
    ],
    "heartbeat-hour-as-a-time": [
        "heartbeat-hour-as-a-time.yaml:6:27: found '06:00'; right would be a whole number",
    ],
    "heartbeat-hour-out-of-range": [
        "heartbeat-hour-out-of-range.yaml:6:27: found 24; right would be less than or equal to 23",
    ],
}

PUBLIC = {
    "public-url-without-https": [
        "public-url-without-https.yaml:6:20: found 'dew.example'; right would be an address such as https://HOST:PORT",
    ],
}

# A layout's findings carry the layout file's own place.
LAYOUTS = {
    "layout-loop": [
        "layouts/loop.yaml:8:1: junction low_side lies on a loop; suction flow runs one way",
        "layouts/loop.yaml:8:1: vessel accumulator lies on a loop; suction flow runs one way",
    ],
    "layout-dead-end": [
        "layouts/dead-end.yaml:8:1: from probe sump no compressor is reached",
    ],
    "layout-no-transducer": [
        "layouts/no-transducer.yaml:8:1: found transducers: none; exactly one measures suction pressure",
    ],
    "layout-unknown-place": [
        "layouts/unknown-place.yaml:11:26: unknown kind of place 'vesel'; here stand evaporator, segment, probe, transducer, junction, vessel, filter, exchanger, inlet, split, compressor",
    ],
    "layout-unknown-effect": [
        "layouts/unknown-effect.yaml:20:3: effect is 'warm'; right would be warms, cools, either",
    ],
    "layout-unknown-inlet": [
        "layouts/unknown-inlet.yaml:19:1: hot_gas joins on a path but its effect is not described here",
        "layouts/unknown-inlet.yaml:21:3: is on no path of suction_side; put 'inlet: NAME' where it joins",
    ],
    "layout-unknown-evaporator": [
        "layouts/unknown-evaporator.yaml:23:13: no evaporator 'indoor_unit' on suction_side; there are indoor_units, outdoor_coil",
    ],
    "layout-renamed": [
        "layouts/renamed.yaml:2:9: found 'renamd'; the file's name says 'renamed'",
    ],
    "layout-not-yaml": [
        "layouts/not-yaml.yaml:21:17: not YAML: while parsing a flow mapping (line 20), expected ',' or '}', but got ':'",
    ],
    "layout-not-a-mapping": [
        "layouts/not-a-mapping.yaml:1:1: a layout file is a mapping with layout, suction_side, modes",
    ],
    "layout-empty": [
        "layouts/empty.yaml:1:1: a layout file is a mapping with layout, suction_side, modes",
    ],
}

# What a coil does, what is injected, where liquid runs.
ROLES_AND_LIQUID = {
    "layout-coil-contradicted": [
        "layouts/coil-contradicted.yaml:27:3: outdoor_coil evaporates, and its pipe coil_pipe is on high_side; leave one out",
    ],
    "layout-coil-in-both-roles": [
        "layouts/coil-in-both-roles.yaml:33:5: outdoor_coil cannot evaporate and condense at once in simultaneous; leave one out",
    ],
    "layout-coil-of-no-evaporator": [
        "layouts/coil-of-no-evaporator.yaml:19:9: no evaporator 'outdoor' on suction_side; there are indoor_units, outdoor_coil",
    ],
    "layout-coil-pipe-of-another": [
        "layouts/coil-pipe-of-another.yaml:19:49: suction_gas_pipe brings vapour of indoor_units; right would be the pipe of outdoor_coil alone",
    ],
    "layout-coil-pipe-unknown": [
        "layouts/coil-pipe-unknown.yaml:19:49: no segment 'coil_pip' on suction_side; there are coil_pipe, suction_gas_pipe",
    ],
    "layout-coil-valve-of-an-inlet": [
        "layouts/coil-valve-of-an-inlet.yaml:19:9: bypass_valve is the valve of an inlet and the valve of outdoor_coil; a signal tells one thing",
    ],
    "layout-coil-valve-with-a-space": [
        "layouts/coil-valve-with-a-space.yaml:19:9: valve is 'coil valve'; right would be the name of the signal that tells it",
    ],
    "layout-coil-without-pipe": [
        "layouts/coil-without-pipe.yaml:19:9: found {'valve': 'coil_valve'}; a coil has valve and pipe",
    ],
    "layout-coils-as-a-list": [
        "layouts/coils-as-a-list.yaml:19:1: it is a mapping of coil to the valve that tells its role, and its pipe",
    ],
    "layout-evaporates-and-condenses": [
        "layouts/evaporates-and-condenses.yaml:25:5: indoor_units cannot evaporate and condense at once in cooling; leave one out",
    ],
    "layout-injection-into-no-compressor": [
        "layouts/injection-into-no-compressor.yaml:20:51: no compressor '2' on suction_side; there are 1",
    ],
    "layout-injection-into-none": [
        "layouts/injection-into-none.yaml:20:51: name at least one compressor",
    ],
    "layout-injection-of-an-unknown-kind": [
        "layouts/injection-of-an-unknown-kind.yaml:20:1: kind is 'steam'; right would be vapour, liquid",
    ],
    "layout-injection-valve-of-a-coil": [
        "layouts/injection-valve-of-a-coil.yaml:20:1: coil_valve is the valve of outdoor_coil and the valve of injection; a signal tells one thing",
    ],
    "layout-injection-without-into": [
        "layouts/injection-without-into.yaml:20:1: found {'kind': 'vapour', 'valve': 'injection_valve'}; injection has kind, into and, where a signal tells it, valve",
    ],
    "layout-liquid-beside-itself": [
        "layouts/liquid-beside-itself.yaml:13:1: probe coil_liquid stands beside itself; name each place once",
    ],
    "layout-liquid-dead-end": [
        "layouts/liquid-dead-end.yaml:13:1: probe nowhere is a dead end; paths run from coil to coil",
    ],
    "layout-liquid-path-of-one-place": [
        "layouts/liquid-path-of-one-place.yaml:14:5: a path is a list of two places or more, from coil to coil",
    ],
    "layout-liquid-probe-of-another-side": [
        "layouts/liquid-probe-of-another-side.yaml:13:1: suction_pipe is a probe and a probe of liquid_side; a signal tells one thing",
    ],
    "layout-liquid-side-as-a-mapping": [
        "layouts/liquid-side-as-a-mapping.yaml:13:1: missing or empty; it is a list of paths, each a list of places from coil to coil",
    ],
    "layout-liquid-unknown-coil": [
        "layouts/liquid-unknown-coil.yaml:13:1: coil second_coil is neither an evaporator of suction_side nor a condenser of discharge_side; there are indoor_units, outdoor_coil",
    ],
    "layout-liquid-unknown-place": [
        "layouts/liquid-unknown-place.yaml:14:26: unknown kind of place 'prob'; here stand coil, segment, probe, junction, vessel, filter, exchanger, expansion",
    ],
    "layout-unknown-condenser": [
        "layouts/unknown-condenser.yaml:25:5: no coil 'outdoor' on liquid_side; there are indoor_units, outdoor_coil",
    ],
    "layout-unknown-expansion": [
        "layouts/unknown-expansion.yaml:26:5: no expansion 'indoor_valve' on liquid_side; there are indoor_expansion, outdoor_expansion",
    ],
    "layout-unknown": [
        "layout-unknown.yaml:22:20: no layout file may be called unknown: layouts/unknown.yaml; rename it",
    ],
}

# A module whose piping nobody has described: its signals are taken as they are, and still have to be meant.
UNKNOWN_LAYOUT = {
    "probe-of-an-unknown-layout": [
        "probe-of-an-unknown-layout.yaml:23:67: layout unknown has no suction probe 'suction_pipe'",
    ],
    "unknown-state-on-an-unknown-layout": [
        "unknown-state-on-an-unknown-layout.yaml:17:43: a state is never 'up'; there are condenser, evaporator, idle, open, shut",
    ],
    "unknown-unit-on-an-unknown-layout": [
        "unknown-unit-on-an-unknown-layout.yaml:13:28: 'deg' is no unit; did you mean 'degF'?",
    ],
}

# Modules written once for many: what is wrong is said once, and where it was written.
BLOCKS = {
    "range-with-a-dash": [
        "range-with-a-dash.yaml:23:7: found 'n[1-3]'; right would be a name, a range of names such as n[1..20] or a list such as n[1,3,7]",
    ],
    "range-backwards": [
        "range-backwards.yaml:23:7: found 'n[3..1]'; right would be a name, a range of names such as n[1..20] or a list such as n[1,3,7]",
    ],
    "range-of-words": [
        "range-of-words.yaml:23:7: found 'n[one,two]'; right would be a name, a range of names such as n[1..20] or a list such as n[1,3,7]",
    ],
    "range-of-too-many": [
        "range-of-too-many.yaml:23:7: found 'n[1..5000]'; it names more than 1000 modules",
    ],
    "range-of-bad-names": [
        "range-of-bad-names.yaml:23:7: found the key 'N1'; right would be a name of small letters, digits, - and _",
    ],
    "range-in-braces": [
        "range-in-braces.yaml:20:43: not YAML: while parsing a flow mapping (line 20), expected ',' or '}', but got '['; a range such as 'n[1..3]' stands in quotes here",
    ],
    "module-in-two-blocks": [
        "module-in-two-blocks.yaml:24:7: module n2 is in n[1..3] already; a module is named once",
    ],
    "module-twice-in-a-list": [
        "module-twice-in-a-list.yaml:23:7: module n1 is in n[1,3,1] already; a module is named once",
    ],
    "range-on-one-topic": [
        "range-on-one-topic.yaml:23:72: mode on topic plant/all belongs to hill-house/north/n1 already; state another topic",
    ],
    "range-with-a-mistake": [
        "range-with-a-mistake.yaml:23:80: found 'fast'; right would be a number",
        "range-with-a-mistake.yaml:23:93: found 'plant/+/n1'; right would be a topic without + and #",
    ],
    "unknown-placeholder": [
        "unknown-placeholder.yaml:23:72: no placeholder {modul}; did you mean 'module'?",
    ],
    "placeholder-without-a-number": [
        "placeholder-without-a-number.yaml:23:70: found {number}, and the name north does not end in a number",
    ],
    "placeholder-left-open": [
        "placeholder-left-open.yaml:23:67: found 'plant/{module'; a brace belongs to a placeholder: {site}, {system}, {module}, {number}",
    ],
    "unknown-template": [
        "unknown-template.yaml:26:22: no template 'lat'; did you mean 'late'?",
    ],
    "no-templates": [
        "no-templates.yaml:23:22: no template 'late'",
    ],
    "template-as-text": [
        "template-as-text.yaml:20:9: found 'two-pipe-twin-late'; right would be a mapping",
    ],
    "template-of-a-template": [
        "template-of-a-template.yaml:21:10: unknown key 'template'; there are configured_probe, layout, pressure_loss_kpa, runs_above_a, runs_above_hz, signal_set, topic, unknown_loss_kpa",
    ],
    "unknown-key-of-a-template": [
        "unknown-key-of-a-template.yaml:20:10: unknown key 'layot'; did you mean 'layout'?",
    ],
    "mistake-in-a-template": [
        "mistake-in-a-template.yaml:20:18: no layout file ../../../config/layouts/two-pipe-twin-lat.yaml; did you mean 'two-pipe-twin-late'?",
        "mistake-in-a-template.yaml:20:71: found 0; right would be greater than 0",
    ],
    "mistake-in-a-dated-template": [
        "mistake-in-a-dated-template.yaml:20:48: unknown key 'wy'; did you mean 'why'?",
    ],
    "mistake-over-a-template": [
        "mistake-over-a-template.yaml:26:45: no signal set 'poled'; did you mean 'polled'?",
    ],
    "template-without-a-layout": [
        "template-without-a-layout.yaml:26:7: layout is missing",
    ],
}

# Signals of a system or site.
SHARED = {
    "shared-unknown-signal-set": [
        "shared-unknown-signal-set.yaml:22:26: no signal set 'commn'; there are polled",
    ],
    "shared-signal-without-a-place": [
        "shared-signal-without-a-place.yaml:23:7: no layout of hill-house/north has a place for signal 'outdoor_ari'; did you mean 'outdoor_air'?",
    ],
    "shared-signal-without-accuracy": [
        "shared-signal-without-accuracy.yaml:23:7: accuracy is missing; state the instrument's limit of error in the signal's unit",
    ],
    "shared-on-a-module-s-topic": [
        "shared-on-a-module-s-topic.yaml:30:7: mode on topic plant/hill-house/north/n1 belongs to hill-house/north already; state another topic",
    ],
    "shared-unknown-zone": [
        "shared-unknown-zone.yaml:28:47: no time zone 'Europe/Berln'; did you mean 'Europe/Berlin'?",
    ],
    "shared-on-a-topic-of-another-zone": [
        "shared-on-a-topic-of-another-zone.yaml:30:18: topic plant/hill-house/north/n1 is stamped in Europe/Berlin here and UTC in the shared signals of hill-house; right would be one stamps_zone",
    ],
    "shared-placeholder-of-a-module": [
        "shared-placeholder-of-a-module.yaml:28:41: no placeholder {module}; there are site, system",
    ],
    "shared-without-a-set": [
        "shared-without-a-set.yaml:22:5: signal_set is missing",
    ],
    "shared-where-the-agent-publishes": [
        "shared-where-the-agent-publishes.yaml:28:41: topic dewline/north lies under broker.prefix, where the agent hears nothing",
    ],
}

# A password stands elsewhere, and what was written in its place is not shown.
PASSWORD = {
    "password-twice": [
        "password-twice.yaml:5:1: found a mapping; right would be password_env or password_file, not both",
    ],
    "password-for-a-variable": [
        "password-for-a-variable.yaml:5:42: found a value that is not shown; right would be the name of an environment variable",
    ],
    "broker-as-a-url": [
        "broker-as-a-url.yaml:5:9: found 'mqtt://...'; right would be a mapping",
    ],
    "store-with-a-password": [
        "store-with-a-password.yaml:4:14: found a URL that begins with 'sqlite'; right would be sqlite:///PATH, with four slashes for an absolute path",
    ],
    "password-as-a-number": [
        "password-as-a-number.yaml:5:42: found a value that is not shown; right would be text",
    ],
}

# Several at once, sorted by place.
SEVERAL = {
    "several-kinds-in-several-modules": [
        "several-kinds-in-several-modules.yaml:2:1: unknown key 'elevation'; did you mean 'elevation_m'?",
        "several-kinds-in-several-modules.yaml:15:82: found 'one'; right would be a number",
        "several-kinds-in-several-modules.yaml:21:18: no refrigerant 'R410A'; did you mean 'R-410A'?",
        "several-kinds-in-several-modules.yaml:23:75: found 'slow'; right would be a number",
        "several-kinds-in-several-modules.yaml:24:20: no layout file ../../../config/layouts/two-pipe-twin-lat.yaml; did you mean 'two-pipe-twin-late'?",
        "several-kinds-in-several-modules.yaml:25:78: layout two-pipe-twin-late has no suction probe 'inlet'; there are compressor_inlet, outdoor_coil_gas, suction_pipe",
    ],
    "several-without-followers": [
        "several-without-followers.yaml:1:7: found 'Hill House'; right would be a name of small letters, digits, - and _",
        "several-without-followers.yaml:3:1: unknown key 'layout'; did you mean 'layouts'?",
        "several-without-followers.yaml:5:1: telemetry is missing",
        "several-without-followers.yaml:5:10: unknown key 'telemetri'; did you mean 'telemetry'?",
        "several-without-followers.yaml:9:14: found -30; right would be greater than 0",
        "several-without-followers.yaml:12:7: found the key 'Mode'; right would be a name of small letters, digits, - and _",
        "several-without-followers.yaml:24:52: no signal set 'poled'; did you mean 'polled'?",
    ],
    "several-settings": [
        "several-settings.yaml:2:14: found 'high'; right would be a number",
        "several-settings.yaml:5:1: telemetry is missing",
        "several-settings.yaml:5:10: unknown key 'telemetri'; did you mean 'telemetry'?",
        "several-settings.yaml:15:72: found -10; right would be greater than 0",
        "several-settings.yaml:21:17: found nothing; right would be text",
    ],
    "several-meanings": [
        "several-meanings.yaml:6:10: no alarm 'superheat-lo'; did you mean 'superheat-low'?",
        "several-meanings.yaml:13:34: a mode is never 'colling'; did you mean 'cooling'?",
        "several-meanings.yaml:17:34: 'psi' is no unit of frequency; right would be one of Hz, 1/s, 1/min",
        "several-meanings.yaml:22:18: no refrigerant 'R410A'; did you mean 'R-410A'?",
        "several-meanings.yaml:24:78: layout two-pipe-twin-late has no suction probe 'inlet'; there are compressor_inlet, outdoor_coil_gas, suction_pipe",
        "several-meanings.yaml:25:20: no layout file ../../../config/layouts/two-pipe-single.yaml; did you mean 'two-pipe-single-early'?",
        "several-meanings.yaml:25:49: no signal set 'poled'; did you mean 'polled'?",
    ],
    "layout-several": [
        "layouts/several.yaml:8:1: found transducers: none; exactly one measures suction pressure",
        "layouts/several.yaml:20:3: effect is 'warm'; right would be warms, cools, either",
        "layouts/several.yaml:24:3: only steady modes are described: cooling, heating, simultaneous",
    ],
}

# Layouts with dates, and the signals that a mode follows from.
DATED = {
    "dated-empty-list": [
        "dated-empty-list.yaml:25:9: found an empty list; right would be the name of a layout, or a list of at least one entry",
    ],
    "dated-first-with-a-day": [
        "dated-first-with-a-day.yaml:25:9: found a list; right would be a first entry without valid_from: it holds since ever",
    ],
    "dated-no-day": [
        "dated-no-day.yaml:27:54: found '20.11.2026'; right would be a day such as 2026-11-20, or a time with its offset such as 2026-11-20T14:00+01:00",
    ],
    "dated-out-of-order": [
        "dated-out-of-order.yaml:25:9: found a list; right would be entries in the order of valid_from, each later than the one before",
    ],
    "dated-proven-neither-side": [
        "dated-proven-neither-side.yaml:26:71: found 'before'; right would be 'ahead' or 'after'",
    ],
    "dated-proven-nothing-open": [
        "dated-proven-nothing-open.yaml:26:51: layout two-pipe-twin-late leaves no side open for compressor_inlet; leave it out",
    ],
    "dated-time-without-offset": [
        "dated-time-without-offset.yaml:27:54: found '2026-11-20T14:00'; right would be a day such as 2026-11-20, or a time with its offset such as 2026-11-20T14:00+01:00",
    ],
    "dated-unknown-layout": [
        "dated-unknown-layout.yaml:27:22: no layout file ../../../config/layouts/two-pipe-twin-lat.yaml; did you mean 'two-pipe-twin-late'?",
    ],
    "dated-unknown-signal-set": [
        "dated-unknown-signal-set.yaml:27:104: no signal set 'poled'; did you mean 'polled'?",
    ],
    "dated-without-why": [
        "dated-without-why.yaml:25:9: found a list; right would be valid_from, by and why in every entry after the first",
    ],
    "fan-neither-stopped-nor-running": [
        "fan-neither-stopped-nor-running.yaml:17:33: a fan is never 'off'; there are running, stopped",
    ],
    "reversing-valve-polarity-unknown": [
        "reversing-valve-polarity-unknown.yaml:17:37: a reversing valve is never 'cool'; did you mean 'cooling'?",
    ],
    "reversing-valve-without-polarity": [
        "reversing-valve-without-polarity.yaml:17:7: values is missing; it says which of cooling, heating each value means",
    ],
}

EXPECTED = (
    TEXT
    | TWICE_AND_MERGED
    | TYPES
    | KEYS
    | NAMES
    | SIGNALS
    | TOPICS
    | STORE
    | PAYLOADS
    | BROKER
    | HTTP
    | NOTICES
    | PUBLIC
    | LAYOUTS
    | ROLES_AND_LIQUID
    | UNKNOWN_LAYOUT
    | DATED
    | SEVERAL
    | BLOCKS
    | SHARED
    | PASSWORD
)


@pytest.mark.parametrize("name", EXPECTED)
def test_findings_of(name, monkeypatch):
    monkeypatch.chdir(BAD)  # so that a finding names its file as it stands above
    with pytest.raises(ConfigError) as raised:
        load(Path(f"{name}.yaml"))
    assert str(raised.value).splitlines() == EXPECTED[name]


def test_every_bad_file_is_expected_and_the_good_one_loads():
    assert {file.stem for file in BAD.glob("*.yaml")} == set(EXPECTED)
    assert {f"layout-{file.stem}" for file in BAD.glob("layouts/*.yaml")} == {
        *LAYOUTS,
        *ROLES_AND_LIQUID,
        "layout-several",
    }
    assert len(load(BAD.parent / "good.yaml").modules) == 1


def test_no_finding_on_notices_shows_a_password():
    assert any("opensesame" in (BAD / f"{name}.yaml").read_text(encoding="utf-8") for name in NOTICES)
    assert "opensesame" not in str(NOTICES) + str(HTTP)
    assert "4711" not in str(HTTP)


def test_no_finding_on_the_broker_shows_a_key():
    assert any("opensesame" in (BAD / f"{name}.yaml").read_text(encoding="utf-8") for name in BROKER)
    assert "opensesame" not in str(BROKER)
