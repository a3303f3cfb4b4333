"""Views: results in; rich renderables or JSON out. No queries, no rules, no decisions."""
