"""Sample terms of keeping, in plain words, for a nursery that has none yet. A lawyer must approve them before use.

They are an example of what such terms speak about, not legal advice; every figure and period is the nursery's own.
"""

VERSION = "Sample 1"
TEXT = """\
1. What we do. We keep your tree, water it, look at it every day and treat it only by the means you allowed above.

2. What we cannot promise. Eggs under the shell of a scale outlast soap, oil and most sprays. Treatment is a series of \
rounds and looks. We write down what was seen, by whom, how and when; we promise neither success nor survival.

3. Entrance quarantine. Every tree stands apart for the first days. This is our own precaution and costs nothing. \
If live pests are found the tree goes to isolation; the surcharge counts from the day you agree to it.

4. Prices. Boarding is counted in nights by the rate card named above and never costs more than the cheapest \
combination of nights, weeks and months. Work is charged by the minute measured. Work beyond what you agreed to is \
done only after we have asked you.

5. Care and liability. We keep your tree with the care of a good gardener. Tell us its value now if you want it \
written down. What we answer for, and up to which amount, is to be filled in here by your lawyer and insurer.

6. Collection. We tell you when your tree is ready. Please collect it within the term named above. Only you, or a \
person you named to us before, may collect. After the term boarding goes on at the rate card, and we write to you \
again before anything else is done. Whether and how we may retain or dispose of a tree is to be filled in here by \
your lawyer.

7. If your tree dies. We tell you the same day and keep the remains and the pot until you have answered.

8. If this was agreed at a distance. A private customer may have the right to withdraw. The period, and what is owed \
if work began earlier at your express wish, is to be filled in here by your lawyer.

9. Your data. We keep your name, address and what we agreed for as long as the law asks. Pictures of your tree carry \
neither place nor device, and are used for other purposes only if you said yes above.
"""
