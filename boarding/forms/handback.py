"""The form of the report at handback: the questions of the arrival again, none answered beforehand."""

from boarding.forms.visit import ReportForm


class HandbackReportForm(ReportForm):
    """Every part is graded anew; what was seen at arrival is shown beside the question, never filled in."""

    PARTS = (
        ("How it was looked at", "light lens foliage_wet"),
        ("Measures", "height_cm spread_cm trunk_mm weight_kg firm_in_pot moisture"),
        ("Wire and injuries", "wire broken_twigs injuries"),
        ("Not seen, and remarks", "not_examined customer_remarks"),
    )

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["things"]
