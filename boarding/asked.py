"""What is asked at the gate, in the very words: each kind of means by itself, because soap is no oil.

Units: none. Errors: KeyError for a question that is not asked here. Source: the house's own wording.

>>> MEANS_WORDING["soap"]
'May the tree be washed with soap?'
"""

MEANS_WORDING = {
    "brush": "May the tree be brushed by hand, with water?",
    "jet": "May the tree be jetted with water?",
    "soap": "May the tree be washed with soap?",
    "oil": "May oil be used on the tree?",
    "contact": "May a contact spray be used on the tree, as its label allows?",
    "systemic": "May a systemic product be used on the tree, as its label allows?",
    "pruning": "May infested twigs be pruned out?",
    "beneficials": "May beneficial insects be set out on the tree?",
}
COLLECT_WORDING = "May {name} collect {tree} for you?"
PHOTO_USE_WORDING = "May pictures of your trees be used to show our work, without your name?"
BEGIN_NOW_WORDING = (
    "This was agreed at a distance."
    " Do you expressly wish the work to begin before the withdrawal period ends?"
)
ISOLATION_WORDING = "Do you agree to isolation at the surcharge of the rate card, from this day?"

ZONE_WORDS = {
    "entrance": "entrance quarantine: apart from the others for the first days, our own precaution, free of charge",
    "clean": "with the trees on which none were seen alive",
    "observation": "under observation, apart from the other trees",
    "isolation": "isolation, apart from all other trees",
    "wash": "the wash bay, on its way to another place",
    "winter": "the winter house",
}
