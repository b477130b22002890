scenario "Not A Name" { ### "The scenario \"Not A Name\" has no \"version\"; it needs a text in quotes." "The scenario asks nothing; it needs a stage." "\"Not A Name\" cannot be a name; names are lower-case letters, digits and dashes, a letter first, such as \"rd-1\"."
  title    = "A header with mistakes"
  decision = "simple"
  guard    = 1 ### "The simple rule takes no guard; leave it out, or decide \"guarded\"."
  colour   = "red" ### "The scenario \"Not A Name\" has no attribute \"colour\". Known here: after_fail, decision, guard, order, title, version, windows."
}
