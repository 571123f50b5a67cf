"""What is suspicious about a rule base, in layers that can be run one by one.

style         how the files are written: order of keys, spaces, length, unwanted words
schema        every entry has its keys, and they hold what they should (as loading sees it)
references    what one entry says of another exists there (as loading sees it)
reachability  nothing stands there that no complaint, check or remedy leads to
sense         rows that say nothing, causes nobody can tell apart, steps without their caution
              (what bears on safety is in `safety`, on lessons and the routine in `teaching`)

A check is a small function that yields what it found; its name is the remark's name. To add one,
write it and put it into the tuple of its module.
"""
