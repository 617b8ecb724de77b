"""Taking a town's files into the database: its trees and its streets."""
