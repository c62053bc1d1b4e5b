"""A mapping with most of what one can hold, and a file for mappings to take apart."""

LOOSE = ("Tag,Out,Text,reason,removed_on,service_point,installed_on\n"
         "H1,31.12.2020,hose cracked weld,BRKDN,2020-12-31,P1,2020-01-01\n"
         "H2,\"1,5\",=1+1,failed,01/02/2021,P2,2020-02-01\n")
"""A file that a mapping may take anything from."""
FULL = """currency = "GBP"
[rates]
NOK = 0.0742
[renamed_places]
"P3" = "P1"
[[swap]]
on = 2020-06-01
places = ["P1", "P2"]
[[file]]
match = "replacements_a.csv"
log = "replacements"
delimiter = ","
date_formats = ["%d.%m.%Y", "%d/%m/%Y"]
decimal = ","
exported_on = 2021-03-01
currency = "NOK"
ignore = ["installed_on"]
[file.columns]
last_seen_good_on = "Out"
part_cost = "Tag"
[file.extract]
hose_id = { column = "Tag", pattern = "H(.*)" }
[file.words.reason]
BRKDN = "failed"
[file.find.mechanism]
column = "Text"
words = { "cracked weld" = "weld_fitting" }
[file.skip]
Text = ["void", ""]
[file.keep]
reason = "(?i)b|f"
"""
"""A mapping with most of what one can hold."""
