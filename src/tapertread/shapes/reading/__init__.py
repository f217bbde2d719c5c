"""Reading what was measured: tables into raw outlines.

=================  =============================================================================
module             duty (in the order data flows)
=================  =============================================================================
``recipe_fields``  what a recipe can say, with the sentences of its page
``recipe_checks``  whether a recipe agrees with itself
``recipe``         recipes from TOML; every mistake named with its place
``recipe_page``    reference pages and schemas, made from what is accepted
``text_form``      how a text file is written, found from its first lines
``text_table``     tables in text files, in blocks of rows
``frame_table``    tables in workbooks and Parquet files
``table_chunk``    rows with the line each stands on
``tables_in``      opening a table, whatever kind of file it is in
``header``         what the names of columns say
``dates``          dates into ISO 8601; two meanings are refused
``point_columns``  where the points of a table stand
``column_plan``    recipe, caller and header put together
``batches``        cells into numbers, keeping every cell that is none
``raw_outline``    an outline as measured, and what is known about it
``assembling``     rows into outlines
``outlines``       any table into raw outlines
=================  =============================================================================
"""
