"""One answer, many renderings: layout only, nothing is computed or worded here."""

FORMS: dict[tuple[str, str], tuple[str, str]] = {
    ("Reconciliation", "html"): ("reconcile.report.pages.html", "snippet"),
    ("Plan", "html"): ("reconcile.report.pages.field_sheet", "plan_html"),
    ("Plan", "text"): ("reconcile.report.pages.field_sheet", "plan_text"),
    ("FieldTestResult", "html"): ("reconcile.report.pages.field_record", "record_snippet"),
    ("FieldTestResult", "text"): ("reconcile.report.pages.field_record", "judge_text"),
}
"""Module and function that render a class's results in a form; results look here when they are asked to show."""
