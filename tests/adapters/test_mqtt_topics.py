"""Topic filters and the channel names made from topics."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from paho.mqtt.client import topic_matches_sub

from parchd_adapters.mqtt.template import bind, check_template
from parchd_adapters.mqtt.topics import check_filter, match

LEVEL = st.sampled_from(["", "a", "b", "north block", "$x", "süd"])
TOPICS = st.lists(LEVEL, min_size=1, max_size=5).map("/".join).filter(bool)
FILTERS = st.tuples(st.lists(LEVEL | st.just("+"), min_size=1, max_size=5), st.booleans()).map(
    lambda parts: "/".join([*parts[0], *(["#"] if parts[1] else [])])
)


@given(FILTERS.filter(bool), TOPICS)
def test_a_filter_matches_what_the_mqtt_library_says_it_matches(topic_filter: str, topic: str) -> None:
    if topic.startswith("$") == topic_filter.startswith("$"):  # the library leaves section 4.7.2 to the broker
        assert (match(topic_filter, topic) is not None) == topic_matches_sub(topic_filter, topic)
    else:
        assert match(topic_filter, topic) is None


@given(FILTERS.filter(bool), TOPICS)
def test_what_the_wildcards_stood_for_put_back_gives_the_topic(topic_filter: str, topic: str) -> None:
    found = match(topic_filter, topic)
    if found is None:
        return
    words = iter(found)
    rebuilt = "/".join(next(words) if level in ("+", "#") else level for level in topic_filter.split("/"))
    assert not list(words)
    assert rebuilt in (topic, topic + "/")  # "a/#" matches "a" as well as "a/"


@pytest.mark.parametrize(
    "topic_filter",
    ["farm", "farm/+/volts", "+", "#", "farm/#", "/farm", "farm//volts", "+/+/#", "$SYS/broker/load", "süd/+"],
)
def test_filters_that_brokers_accept_are_accepted(topic_filter: str) -> None:
    assert check_filter(topic_filter) == topic_filter


@pytest.mark.parametrize(
    ("topic_filter", "said"),
    [
        ("", "1 to 65535 bytes"),
        ("farm\0", "NUL"),
        ("x" * 65536, "65535"),
        ("farm/#/volts", "'#' alone"),
        ("farm/a#", "'#' alone"),
        ("farm/a+/volts", "whole level"),
        ("farm/v+", "whole level"),
        ("$share/group/field/+", "shared subscription"),
    ],
)
def test_filters_that_brokers_refuse_are_refused_with_the_reason(topic_filter: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        check_filter(topic_filter)


@pytest.mark.parametrize(
    ("template", "topic_filter", "topic", "channel"),
    [
        ("{1}", "farm/+/volts", "farm/north/volts", "north"),
        ("{2}-{1}", "farm/+/+", "farm/north/t1", "t1-north"),
        ("creek.{#}", "farm/#", "farm/a/b", "creek.a.b"),
        ("{1}.{#}", "+/x/#", "farm/x/a", "farm.a"),
        ("{topic}", "farm/+", "farm/north", "farm.north"),
        ("one", "farm/+", "farm/north", "one"),
    ],
)
def test_a_channel_is_named_after_the_topic(template: str, topic_filter: str, topic: str, channel: str) -> None:
    captures = match(topic_filter, topic)
    assert captures is not None
    check_template(template, topic_filter)
    assert bind(template, topic, topic_filter, captures).fixed == channel


@pytest.mark.parametrize(
    ("template", "said"),
    [
        ("", "a channel's name"),
        ("{2}", r"^\{1\}, \{topic\}, which the filter .* offers, not \{2\}"),
        ("{0}", "offers, not"),
        ("{#}", "offers, not"),
        ("{name}", "offers, not"),
        ("a/b", "name of a-z"),
        ("a b", "name of a-z"),
        ("{1", "name of a-z"),
        ("1}", "name of a-z"),
        ("{/a~2}", "JSON Pointer"),
    ],
)
def test_a_template_that_cannot_work_is_refused_with_the_reason(template: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        check_template(template, "farm/+/volts")
