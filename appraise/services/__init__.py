"""What the program can do: one function for each thing a person wants of it.

What needs the database stands in `appraise.services.records`, so that the command line does not
pay for it.
"""

from __future__ import annotations

from appraise.services.cases.casework import (
    appraise_case,
    bid_summary,
    case_schema,
    case_text,
    check_text,
    example_cases,
    find_jobs,
    load_case_file,
    read_case,
    reference_values,
    text_of,
    today,
)
from appraise.services.cases.editing import (
    changed,
    new_case,
    next_step,
    put_finding,
    without_finding,
)
from appraise.services.inspection.diagnosing import (
    codes_in,
    diagnose_case,
    enter_absent,
    enter_result,
    finding_from_code,
    finding_from_symptom,
    possible_causes,
    symptoms_for,
    tool_names,
    without_absent,
    without_result,
)

__all__ = [
    "appraise_case",
    "bid_summary",
    "case_schema",
    "case_text",
    "changed",
    "check_text",
    "codes_in",
    "diagnose_case",
    "enter_absent",
    "enter_result",
    "example_cases",
    "find_jobs",
    "finding_from_code",
    "finding_from_symptom",
    "load_case_file",
    "new_case",
    "next_step",
    "possible_causes",
    "put_finding",
    "read_case",
    "reference_values",
    "symptoms_for",
    "text_of",
    "today",
    "tool_names",
    "without_absent",
    "without_finding",
    "without_result",
]
