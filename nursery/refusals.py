"""The one way an action says "not possible now": a code for tests and tables, a sentence for people."""


class Refused(Exception):
    """Raised by actions before anything is written; the screen shows the sentence and keeps what was typed.

    `field` names the form field the sentence belongs to, empty when it belongs to the whole form.
    """

    def __init__(self, code: str, sentence: str, field: str = "") -> None:
        super().__init__(sentence)
        self.code = code
        self.sentence = sentence
        self.field = field
